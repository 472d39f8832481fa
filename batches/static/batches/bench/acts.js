// What is done at a cylinder beside reading it: noting what is seen, stirring again, making a run void.
// Noting is one tap. The other two open in one place and are said in another.

import { elapsedS, openSlots, secondSlot, slotName } from "./schedule.js";
import { actButton } from "./view.js";

const $ = (id) => document.getElementById(id);
const ACTS = JSON.parse($("bench-acts").textContent);
const DOUBTFUL = "reading doubtful";
const PANELS = ["stir-panel", "void-panel", "second-panel"];

const chosen = (name) => document.querySelector(`input[name="${name}"]:checked`)?.value ?? "";

function unchoose(name) {
  for (const radio of document.querySelectorAll(`input[name="${name}"]`)) radio.checked = false;
}

function show(node, shown) {
  if (node.hidden === shown) node.hidden = !shown;
}

function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/* The newest number in the cylinder: what a doubt can be about. */
export function lastReading(batch, run) {
  return (
    batch.schedule_s.filter((slot) => run.readings[slot] && run.readings[slot].state !== "missed").at(-1) ??
    null
  );
}

/* `bench` gives the room and the clock, keeps entries, and stays with a cylinder. */
export class Acts {
  constructor(bench) {
    this.bench = bench;
    this.shownFor = null;
    $("sights").addEventListener("click", ({ target }) => this.see(target.closest("button")?.dataset.sight));
    $("spill").addEventListener("click", () => this.spill());
    $("blank-once-more").addEventListener("click", () => this.run && bench.readOnceMore(this.run));
    $("stir").addEventListener("click", () => this.stirAgain());
    $("make-void").addEventListener("click", () => this.makeVoid());
    this.second = null; // the second look under way: slot, elapsed time and zero of its moment
    $("second-now").addEventListener("click", () => this.lookAgain());
    $("second-keep").addEventListener("click", () => this.keepSecond());
    // Once a panel is open, another cylinder that becomes due does not slip under the hand.
    for (const id of PANELS)
      $(id).addEventListener("toggle", () => $(id).open && bench.stayWith(this.shownFor));
  }

  /* The cylinder whose name stands above the buttons, whatever has become due since. */
  get run() {
    return this.bench.room.runs.find((run) => run.pk === this.shownFor);
  }

  /* A panel is open: the cylinder it is for stays. */
  get isOpen() {
    return PANELS.some((id) => $(id).open);
  }

  get moment() {
    const { clock } = this.bench;
    return {
      at: new Date(clock.nowMs()).toISOString(),
      doubt: clock.doubt && { id: clock.id, why: clock.doubt },
    };
  }

  paint(run) {
    show($("acts"), Boolean(run) && run.of.may_note && !run.void);
    if (!run) return;
    const batch = run.of;
    if (this.shownFor !== run.pk) this.closePanels(run.pk);
    say($("acts-title"), `Seen at cylinder ${run.cylinder}, ${run.title}`);
    const last = lastReading(batch, run);
    const doubtful = document.querySelector(`[data-sight="${DOUBTFUL}"]`);
    doubtful.disabled = last === null;
    say(doubtful, last === null ? "Reading doubtful" : `Reading at ${slotName(last)} doubtful`);
    this.paintSeen(run);
    this.paintBlank(batch, run);
    this.paintStir(batch, run);
    this.paintSecond(run);
    say($("make-void"), `Cylinder ${run.cylinder}, ${run.title}: make it void`);
  }

  closePanels(pk) {
    this.shownFor = pk;
    this.second = null;
    for (const id of PANELS) $(id).open = false;
    for (const name of ["why-stirred", "why-void"]) unchoose(name);
    for (const id of ["other-stirred", "void-note", "second-value"]) $(id).value = "";
  }

  paintSeen(run) {
    const list = $("seen-list");
    const now = run.seen.map((seen) => seen.entry_id).join();
    if (list.dataset.shown === `${run.pk}: ${now}`) return;
    list.dataset.shown = `${run.pk}: ${now}`;
    list.replaceChildren(...run.seen.map((seen) => this.seenItem(run, seen)));
  }

  seenItem(run, seen) {
    const item = document.createElement("li");
    const words = document.createElement("span");
    words.textContent = `${seen.what}${seen.slot_s ? `, ${slotName(seen.slot_s)} reading` : ""} (${seen.by})`;
    item.append(
      words,
      actButton("Take back", () => this.takeBack(run, seen)),
    );
    return item;
  }

  /* The blank does not settle: a reading of it at any time counts, so one may be taken whenever the room warms. */
  paintBlank(batch, run) {
    show($("blank-panel"), run.is_blank && batch.may_read && Boolean(run.started_at));
    const list = $("blank-list");
    const now = `${run.pk}: ${run.blank_readings.map((each) => each.entry_id).join()}`;
    if (list.dataset.shown === now) return;
    list.dataset.shown = now;
    list.replaceChildren(...run.blank_readings.map((each) => this.blankItem(batch, run, each)));
  }

  blankItem(batch, run, each) {
    const item = document.createElement("li");
    const words = document.createElement("span");
    const at = new Date(each.taken_at).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
    words.textContent = `${each.reading} ${batch.unit}, ${each.temperature_c} °C at ${at} (${each.by})`;
    item.append(
      words,
      actButton("Take back", () => this.takeBlankBack(run, each)),
    );
    return item;
  }

  takeBlankBack(run, each) {
    const { at, doubt } = this.moment;
    const content = {
      run: String(run.pk),
      reading: "",
      temperature_c: "",
      taken_at: at,
      source: "tablet",
      note: "Typed by mistake.",
      takes_back: each.entry_id,
    };
    const told = `Blank in cylinder ${run.cylinder}: reading of ${each.reading} taken back`;
    return this.bench.keep("blank reading", content, told, doubt);
  }

  paintStir(batch, run) {
    const open = openSlots(batch, run).length;
    show($("stir-panel"), Boolean(run.started_at) && batch.state === "running" && open > 0);
    const held = Object.keys(run.readings).length;
    say(
      $("stir-voids"),
      held
        ? `${held} of its readings become void and stay on record.`
        : "Nothing has been read since the start.",
    );
    show($("stir"), !this.bench.clock.doubt);
    show($("stir-waits"), Boolean(this.bench.clock.doubt));
  }

  paintSecond(run) {
    const slot = this.second?.slotS ?? secondSlot(run, this.bench.clock.nowMs());
    show($("second-panel"), slot !== null && !this.bench.clock.doubt);
    if (slot === null) return;
    say($("second-title"), `Second look at ${slotName(slot)}, by another person`);
    say(
      $("second-now"),
      this.second ? `Taken at ${Math.round(this.second.elapsedS)} s: take anew` : "Read now",
    );
  }

  /* The moment is that of the tap; the number may be typed after it. */
  lookAgain() {
    const { run } = this;
    const nowMs = this.bench.clock.nowMs();
    const slotS = run && secondSlot(run, nowMs);
    if (!slotS) return;
    this.second = { slotS, elapsedS: elapsedS(run, nowMs), zero: run.started_at };
    $("second-value").focus();
  }

  keepSecond() {
    const { run, second } = this;
    const reading = $("second-value").value.trim();
    if (!run || !second) $("second-now").focus();
    else if (!reading) $("second-value").focus();
    else this.sendSecond(run, second, reading);
  }

  sendSecond(run, second, reading) {
    const content = {
      run: String(run.pk),
      slot_s: String(second.slotS),
      reading,
      elapsed_s: second.elapsedS.toFixed(1),
      source: "tablet",
      counted_from: second.zero,
    };
    this.closePanels(run.pk);
    this.bench.stayWith(null);
    return this.bench.keep("second reading", content, `Cylinder ${run.cylinder}: second look kept`);
  }

  observe(run, what, slotS, note, takesBack, told) {
    const { at, doubt } = this.moment;
    const content = {
      run: String(run.pk),
      what,
      slot_s: slotS ? String(slotS) : "",
      note,
      seen_at: at,
      takes_back: takesBack,
    };
    return this.bench.keep("observation", content, told, doubt);
  }

  see(what) {
    const { run } = this;
    if (!what || !run) return;
    const slotS = what === DOUBTFUL ? lastReading(run.of, run) : null;
    this.observe(run, what, slotS, "", "", `Cylinder ${run.cylinder}: ${what}`);
  }

  takeBack(run, seen) {
    this.observe(
      run,
      seen.what,
      seen.slot_s,
      "Tapped by mistake.",
      seen.entry_id,
      `Cylinder ${run.cylinder}: “${seen.what}” taken back`,
    );
  }

  /* Kept at once; that the run is void is said in another place. */
  spill() {
    const { run } = this;
    if (!run) return;
    this.observe(run, ACTS.spill, null, "", "", `Cylinder ${run.cylinder}: spill`);
    $("void-panel").open = true;
    document.querySelector(`input[name="why-void"][value="${ACTS.why_void[0]}"]`).checked = true;
    $("void-panel").scrollIntoView({ block: "center" });
  }

  stirAgain() {
    const { clock } = this.bench;
    const reason = $("other-stirred").value.trim() || chosen("why-stirred");
    if (clock.doubt) return;
    if (!reason) $("other-stirred").focus();
    else this.newZero(this.run, new Date(clock.nowMs()).toISOString(), reason);
  }

  /* The readings that the person was told become void go along: nobody else's are voided unseen. */
  newZero(run, startedAt, reason) {
    const voids = String(Object.keys(run.readings).length);
    const content = { run: String(run.pk), started_at: startedAt, voids, source: "tablet", reason };
    this.closePanels(run.pk);
    this.bench.stayWith(null);
    return this.bench.keep("replunge", content, `Cylinder ${run.cylinder} stirred again`);
  }

  makeVoid() {
    const { run } = this;
    const why = chosen("why-void");
    if (!why) {
      document.querySelector('input[name="why-void"]').focus();
      return;
    }
    const { at, doubt } = this.moment;
    const content = { run: String(run.pk), why, note: $("void-note").value.trim(), voided_at: at };
    this.bench.keep("void", content, `Cylinder ${run.cylinder} made void: ${why}`, doubt);
    this.closePanels(run.pk);
    this.bench.stayWith(null);
  }
}
