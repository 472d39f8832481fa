// Keeps every entry on the tablet before anything else, then sends it until the laboratory has answered.
//
// An entry is waiting, stored (answered, until the page has the laboratory's state) or refused (until a person
// has read why). It carries who took it, and is sent under no other name.

import { PROVEN_MS } from "./clock.js";

const LOCK = "siltbook-entries";

/* Random names also where the page is not served over TLS. */
function newName() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/(.{8})(.{4})(.{4})(.{4})(.{12})/, "$1-$2-$3-$4-$5");
}

let turn = Promise.resolve();
function alone(work) {
  if (navigator.locks) return navigator.locks.request(LOCK, work);
  turn = turn.then(work, work);
  return turn;
}

function csrfToken() {
  return (
    document.cookie
      .split("; ")
      .find((part) => part.startsWith("csrftoken="))
      ?.slice("csrftoken=".length) ?? ""
  );
}

export class EntryQueue {
  /* `store` keeps entries by a number of its own, in the order they came: add, put, all, forget. */
  constructor(address, person, store) {
    this.address = address;
    this.person = person;
    this.store = store;
    this.trouble = "";
  }

  /* The content is fixed here; sending it again sends the same. Only a time in doubt is still open: it is settled
     as soon as the laboratory's time is known, and nothing of it is sent before. Returns its number. */
  keep(kind, content, told, doubt = null) {
    const entry = {
      entry_id: newName(),
      kind,
      content,
      by: this.person.pk,
      by_name: this.person.name,
      told,
      state: "waiting",
    };
    if (doubt) entry.doubt = doubt;
    return this.store.add(entry);
  }

  async hasDoubts() {
    return (await this.all()).some((entry) => entry.doubt);
  }

  /* The clock `id` was found ahead by so much: times from it are put right and marked, or proven where a counter
     went on until then. Those from a clock before it, or from one that is right now without a counter that went on,
     are marked only: nobody knows how far it was off. */
  async settleTimes(id, aheadMs, isBridged) {
    for (const entry of await this.all()) {
      if (!entry.doubt) continue;
      const { doubt, ...settled } = entry;
      settled.content = settledContent(entry, doubt.id === id, aheadMs, isBridged);
      await this.store.put(settled);
    }
  }

  all() {
    return this.store.all();
  }

  forget(n) {
    return this.store.forget(n);
  }

  async forgetStored() {
    for (const entry of await this.all()) if (entry.state === "stored") await this.forget(entry.n);
  }

  /* Send what waits, in the order it was taken. Returns whether anything was answered. */
  flush() {
    return alone(async () => {
      this.trouble = "";
      let answered = false;
      for (const entry of await this.all()) {
        if (entry.state !== "waiting" || entry.by !== this.person.pk) continue;
        if (entry.doubt) break; // its time is settled first
        const state = await this.send(entry);
        if (state === "waiting") break;
        answered = true;
      }
      return answered;
    });
  }

  /* Send what others took and left here, with this person as the witness. Returns whether anything was answered. */
  handIn() {
    return alone(async () => {
      this.trouble = "";
      let answered = false;
      for (const entry of await this.all()) {
        if (entry.state !== "waiting" || entry.by === this.person.pk || entry.doubt) continue;
        const state = await this.send(entry, true);
        if (state === "waiting") break;
        answered = true;
      }
      return answered;
    });
  }

  async send(entry, witnessed = false) {
    let answer;
    try {
      answer = await fetch(this.address, {
        method: "POST",
        headers: {
          "Content-Type": "application/json",
          "X-CSRFToken": csrfToken(),
          Accept: "application/json",
        },
        body: JSON.stringify({
          entry_id: entry.entry_id,
          kind: entry.kind,
          content: entry.content,
          by: entry.by,
          ...(witnessed && { witnessed }),
        }),
      });
    } catch {
      return "waiting"; // no network: nothing is lost, the next flush tries again
    }
    const said = await answer.json().catch(() => ({}));
    if (said.stored) return this.settle(entry, "stored", "");
    if ([400, 409, 422].includes(answer.status)) {
      return this.settle(
        entry,
        "refused",
        said.sentence ?? said.detail ?? "The laboratory could not read this entry.",
      );
    }
    this.trouble = whyNotTaken(answer.status, said);
    return "waiting";
  }

  async settle(entry, state, sentence) {
    await this.store.put({ ...entry, state, sentence });
    return state;
  }
}

function whyNotTaken(status, said) {
  if (status === 403 && said.sentence) return said.sentence;
  if (status === 403)
    return "Log in again in this browser: the laboratory does not take entries without a log-in.";
  return `The laboratory answered ${status}. It is tried again.`;
}

const MOMENTS = { observation: "seen_at", void: "voided_at", "blank reading": "taken_at" };

function settledContent({ kind, content, doubt }, isKnown, aheadMs, isBridged) {
  if (isKnown && isBridged && Math.abs(aheadMs) <= PROVEN_MS) return content; // its clock is proven after all
  const aheadS = (aheadMs / 1000).toFixed(1);
  // Without a counter that went on, a clock that is right now says nothing of how far it was off before.
  const isMeasured = isKnown && (isBridged || Math.abs(aheadMs) > PROVEN_MS);
  if (kind === "reading" && content.elapsed_s) {
    if (!isMeasured) return { ...content, time_doubt: doubt.why, time_doubt_s: "" };
    const elapsedS = (Number(content.elapsed_s) - Number(aheadS)).toFixed(1);
    return {
      ...content,
      elapsed_s: elapsedS,
      elapsed_tablet_s: content.elapsed_s,
      time_doubt: doubt.why,
      time_doubt_s: aheadS,
    };
  }
  const moment = MOMENTS[kind];
  if (!moment) return content;
  if (!isMeasured)
    return {
      ...content,
      note: `${content.note} Time doubtful: how far the tablet's clock was off is unknown.`.trim(),
    };
  const note = `${content.note} Time put right: the tablet's clock was ${aheadS} s ahead.`.trim();
  return { ...content, [moment]: new Date(Date.parse(content[moment]) - aheadMs).toISOString(), note };
}
