// Paints what the bench knows; decides nothing and keeps nothing.

import { bandOf, carriedTemperature, earlierReadings } from "./checks.js";
import { countDown, dueOf, elapsedS, isOpening, nextSlot, slotName } from "./schedule.js";

const $ = (id) => document.getElementById(id);
const STATE_WORDS = {
  stopped: "void",
  running: "settling",
  due: "read now",
  late: "late",
  done: "all read",
  soaking: "not started",
};

function show(node, shown) {
  if (node.hidden === shown) node.hidden = !shown;
}

function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

export function paintKept(waiting, refused, trouble, others, silence) {
  const kept = $("kept");
  const place = waiting ? "tablet" : "laboratory";
  kept.dataset.kept = refused || trouble ? "attention" : place;
  const words = [waiting ? `kept on this tablet (${waiting} waiting)` : "kept by the laboratory"];
  if (refused) words.push(`${refused} not taken, see the list`);
  say(kept.querySelector(".kept-words"), words.join("; "));
  const names = [...new Set(others.map((entry) => entry.by_name))].join(" and ");
  const notice = [
    trouble,
    silence,
    others.length
      ? `${others.length} taken by ${names} wait here until ${names} logs in, or you hand them in.`
      : "",
  ];
  show($("left-here"), others.length > 0);
  const text = notice.filter(Boolean).join(" ");
  say($("notice"), text);
  show($("notice"), text !== "");
}

/* What is read from two metres; the rest of it stands small beside it. */
const SHORT = {
  "Lower the hydrometer": "Lower",
  "Next reading": "Next",
  "Next start": "Next",
  "Next blank": "Next",
  "Read the blank": "Read",
  "Nothing is left to read": "Nothing",
};

function inWords({ run, slot_s, kind, inS }) {
  const what = slot_s === undefined ? whatPlanned({ run, kind }) : `${run.cylinder} at ${slotName(slot_s)}`;
  return inS === undefined ? what : `${what} in ${countDown(inS)}`;
}

const whatPlanned = ({ run, kind }) =>
  kind === "blank" && run.started_at ? `the blank in ${run.cylinder}` : `start ${run.cylinder}`;

const slotOf = ({ slot_s, kind }) => {
  if (slot_s !== undefined) return slotName(slot_s);
  return kind === "blank" ? "blank" : "start";
};

/* `after` are the two actions that follow. */
export function paintNext(action, after) {
  $("next").dataset.due = action?.due ?? "soon";
  const [verb, timed] = action ? [action.verb, "inS" in action] : ["Nothing is left to read", false];
  if ($("next-verb").textContent !== verb || $("next-number").textContent !== (action?.run.cylinder ?? "")) {
    $("spoken").textContent = action ? `${verb}: cylinder ${action.run.cylinder}` : verb;
  }
  const word = SHORT[verb] ?? verb;
  say($("next-word"), word);
  say($("next-object"), verb.slice(word.length));
  show($("next-cylinder"), Boolean(action));
  show($("next-slot"), timed);
  show($("next-time"), timed);
  show($("next-then"), after.length > 0);
  say($("next-then"), after.length ? `then ${after.map(inWords).join(", ")}` : "");
  if (!action) return;
  say($("next-number"), action.run.cylinder);
  say($("next-holds"), action.run.title);
  show($("next-second"), timed && Boolean(action.run.second_slots?.includes(action.slot_s)));
  if (!timed) return;
  say($("next-of"), action.slot_s === undefined ? "timetable" : "reading at");
  say($("next-slot-name"), slotOf(action));
  say($("next-to"), action.inS < -1 ? "late by" : "in");
  const clock = countDown(action.inS);
  say($("next-clock"), clock);
  $("next-clock").classList.toggle("is-long", clock.length > 5);
}

/* Somebody looks at another cylinder while one is in its opening block: said, with the way back. */
export function paintElsewhere(held, shown) {
  const away = Boolean(held) && held.pk !== shown?.pk;
  show($("elsewhere"), away);
  if (!away) return;
  say(
    $("elsewhere-words"),
    `Cylinder ${held.cylinder} is in its opening minute. The pad is at ${shown.cylinder}.`,
  );
  say($("elsewhere-back"), `Back to ${held.cylinder}`);
  if ($("elsewhere-back").dataset.run !== String(held.pk)) $("elsewhere-back").dataset.run = held.pk;
}

const MOST_LATE_SHOWN = 2;

/* What is late and waits, in order of time: a tap goes to it, another one gives it as missed. */
export function paintLate(slots, gaveUp) {
  show($("late"), slots.length > 0 || gaveUp !== null);
  show($("late-given"), gaveUp !== null);
  if (gaveUp) say($("late-given-words"), `${gaveUp.cylinder}, ${slotName(gaveUp.slotS)}: missed, kept.`);
  const shown = slots.slice(0, MOST_LATE_SHOWN);
  const list = $("late-list");
  const now = shown.map(({ run, slot_s, canRead }) => `${run.pk} ${slot_s} ${canRead}`).join();
  if (list.dataset.shown !== now) {
    list.dataset.shown = now;
    list.replaceChildren(...shown.map(lateItem));
  }
  shown.forEach(({ inS }, i) => {
    say(list.children[i].querySelector(".late-time"), countDown(inS));
  });
  const more = slots.length - shown.length;
  say($("late-more"), more ? `and ${more} more` : "");
}

function lateItem({ run, slot_s, canRead }) {
  const item = document.createElement("li");
  const go = document.createElement("button");
  const time = document.createElement("span");
  const missed = document.createElement("button");
  for (const button of [go, missed]) {
    button.type = "button";
    button.className = "button button-quiet";
    button.dataset.run = run.pk;
  }
  const what = `${run.cylinder}, ${slotName(slot_s)}`;
  go.dataset.slot = slot_s;
  go.disabled = !canRead;
  time.className = "late-time";
  go.append(`${what} `, time);
  missed.dataset.missed = slot_s;
  missed.textContent = "Missed";
  missed.setAttribute("aria-label", `Missed: cylinder ${what}`);
  item.append(go, missed);
  return item;
}

function stateOf(run, upcoming) {
  if (run.void) return "stopped";
  if (!run.started_at) return "soaking";
  if (!upcoming) return "done";
  return { soon: "running", now: "due", late: "late" }[dueOf(upcoming.inS)];
}

const MOST_DUE_SHOWN = 8;
const clockTime = (ms) => new Date(ms).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });

/* Behind the timetable by so much, it is better planned again than run after. */
const PLAN_AGAIN_S = 300;

function paintBehind(acts) {
  const behindS = Math.max(0, ...acts.filter(({ kind }) => kind === "start").map(({ inS }) => -inS));
  show($("plan-late"), behindS > PLAN_AGAIN_S);
  say(
    $("plan-late-words"),
    `The starts are ${Math.floor(behindS / 60)} min behind the timetable: cylinders that run keep their times.`,
  );
}

/* What is to be done over all batches, in order of time: the clock, the cylinder, what, and how long until then. */
export function paintDue(room, acts, nowMs) {
  show($("due"), acts.length > 0);
  paintBehind(acts);
  const shown = acts.slice(0, MOST_DUE_SHOWN);
  const list = $("due-list");
  const now = shown.map((act) => `${act.run.pk} ${slotOf(act)} ${act.kind}`).join();
  if (list.dataset.shown !== now) {
    list.dataset.shown = now;
    list.replaceChildren(...shown.map((act) => dueItem(room, act, nowMs)));
  }
  shown.forEach((act, i) => {
    const item = list.children[i];
    item.dataset.due = dueOf(act.inS);
    say(item.querySelector(".due-in"), countDown(act.inS));
  });
  const more = acts.length - shown.length;
  say($("due-more"), more ? `and ${more} more` : "");
}

function dueItem(room, act, nowMs) {
  const item = document.createElement("li");
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button button-quiet due-go";
  button.dataset.run = act.run.pk;
  if (act.slot_s !== undefined) button.dataset.slot = act.slot_s;
  const words = act.slot_s === undefined ? whatPlanned(act) : `${act.run.cylinder}, ${slotName(act.slot_s)}`;
  const parts = [
    ["due-at", clockTime(nowMs + act.inS * 1000)],
    ["due-what", words],
    ["due-batch", room.batches.length > 1 ? act.run.of.number : act.run.title],
    ["due-in", ""],
  ];
  button.append(...parts.map(([name, text]) => named("span", name, text)));
  item.append(button);
  return item;
}

function named(tag, name, text) {
  const node = document.createElement(tag);
  node.className = name;
  node.textContent = text;
  return node;
}

/* A rack of tiles for each batch, built anew only when other cylinders stand in the room. */
function layRacks(room) {
  const racks = $("racks");
  const now = room.runs.map(({ pk, title }) => `${pk} ${title}`).join();
  if (racks.dataset.shown === now) return;
  racks.dataset.shown = now;
  racks.replaceChildren(...room.batches.filter(({ runs }) => runs.length).map((batch) => rack(batch, room)));
}

function rack(batch, room) {
  const section = document.createElement("section");
  section.className = "rack";
  if (room.batches.length > 1) section.append(named("h2", "rack-name", `Batch ${batch.number}`));
  const tiles = named("div", "cylinders", "");
  tiles.append(...batch.runs.map(tile));
  section.append(tiles);
  return section;
}

function tile(run) {
  const button = named("button", "cylinder", "");
  button.type = "button";
  button.dataset.run = run.pk;
  button.dataset.state = "soaking";
  button.append(
    named("span", "cylinder-number", run.cylinder),
    named("span", "cylinder-lab", run.title),
    ...["cylinder-state", "cylinder-slot", "cylinder-time"].map((name) => named("span", name, "")),
  );
  return button;
}

export function paintCylinders(room, nowMs, selectedPk) {
  layRacks(room);
  for (const run of room.runs) {
    const batch = run.of;
    const button = document.querySelector(`.cylinder[data-run="${run.pk}"]`);
    const upcoming = nextSlot(batch, run, nowMs);
    const state = stateOf(run, upcoming);
    if (button.dataset.state !== state) button.dataset.state = state;
    const read = batch.schedule_s.filter((slot) => run.readings[slot]).length;
    const inUse = isOpening(batch, run, nowMs) && run.started_by ? `, in use by ${run.started_by}` : "";
    say(button.querySelector(".cylinder-state"), STATE_WORDS[state] + inUse);
    const again = run.stirred_again ? ", stirred again" : "";
    say(
      button.querySelector(".cylinder-slot"),
      (upcoming ? slotName(upcoming.slot_s) : `${read} of ${batch.schedule_s.length}`) + again,
    );
    say(button.querySelector(".cylinder-time"), upcoming ? countDown(upcoming.inS) : "");
    button.toggleAttribute("aria-current", run.pk === selectedPk);
  }
}

export function paintEntry(run, draft, clock) {
  show($("entry"), Boolean(run));
  show($("paper-link"), Boolean(run));
  if (!run) return;
  const batch = run.of;
  for (const unit of document.querySelectorAll("[data-unit]")) say(unit, batch.unit);
  $("paper-link").href = batch.paper;
  const reading = Boolean(draft) && batch.may_read;
  const starting = !run.started_at && !run.void && batch.may_start;
  say($("entry-title"), title(run, draft, clock.nowMs()));
  show($("start-panel"), starting);
  show($("start"), !clock.doubt);
  show($("start-waits"), Boolean(clock.doubt));
  show($("read-panel"), reading);
  show($("pad-more"), reading);
  show($("nothing-open"), !starting && !reading);
  say($("nothing-open"), whyNothing(batch, run));
  if (reading) paintDraft(batch, draft, clock.nowMs());
}

function whyNothing(batch, run) {
  if (run.void) return `Void: ${run.void}. What was measured stays on record; the sample is repeated.`;
  return batch.may_read || batch.may_start
    ? "Every slot of this cylinder is filled."
    : `The batch is “${batch.state}”: nothing is read now.`;
}

function title(run, draft, nowMs) {
  const place = `Cylinder ${run.cylinder}, ${run.title}`;
  if (!run.started_at) return `${place}: not started`;
  const since = countDown(Math.max(0, elapsedS(run, nowMs)));
  return draft
    ? `${place}: ${draft.name} reading, ${since} since the start`
    : `${place}: ${since} since the start`;
}

function paintDraft(batch, draft, nowMs) {
  const before = earlierReadings(batch, draft);
  const lastReading = before.find((reading) => reading.reading);
  const lastTemperature = before.find((reading) => reading.temperature_c);
  for (const field of Object.keys(draft.values)) {
    const shown = field === "reading" && draft.above ? "above" : draft.values[field];
    say($(`value-${field}`), shown || "\u00a0");
    document.querySelector(`[data-field="${field}"]`).classList.toggle("is-active", draft.field === field);
  }
  say($("read-now"), draft.takenMs === null ? "Read now" : `Taken at ${takenAt(draft)}: take anew`);
  say(
    $("previous-reading"),
    lastReading
      ? `Before: ${lastReading.reading} ${batch.unit} at ${slotName(lastReading.slot)}`
      : "No reading before",
  );
  const carried = carriedTemperature(batch, draft, nowMs);
  show($("same"), carried !== null);
  say($("previous-temperature_c"), temperatureBefore(lastTemperature, carried));
  paintBand(batch, draft, lastReading);
  if (draft.field === "reading") paintStepper(draft, batch.step, lastReading?.reading, lastReading?.reading);
  else paintStepper(draft, 0.1, lastTemperature?.temperature_c, carried);
  show($("above"), draft.kind === "reading");
  show($("missed"), draft.kind === "reading");
  say($("missed-title"), `Missed or unreadable: cylinder ${draft.run.cylinder}, ${draft.name}`);
  $("above").setAttribute("aria-pressed", String(draft.above));
  const goesOn = draft.field === "reading" && draft.isNumber("reading");
  $("keep").disabled = !draft.isComplete && !goesOn;
  say($("keep"), whatKeepDoes(draft, goesOn));
}

function temperatureBefore(last, carried) {
  if (!last) return "No temperature before";
  const words = `Before: ${last.temperature_c} °C at ${slotName(last.slot)}`;
  return carried === null ? `${words}, long ago: read it` : words;
}

/* Two steps down, one down, the last value as it is where it may be taken so, one up. */
function paintStepper(draft, step, last, ready) {
  const hasBase = Boolean(last) || draft.isNumber(draft.field);
  for (const button of document.querySelectorAll("[data-step]")) {
    const steps = Number(button.dataset.step);
    const size = Number(Math.abs(steps * step).toPrecision(8));
    const words = steps === 0 ? (ready ?? "–") : `${steps < 0 ? "−" : "+"}\u00a0${size}`;
    say(button, words);
    button.classList.toggle("is-long", words.length > 5);
    button.disabled = steps === 0 ? !ready : !hasBase;
  }
}

function whatKeepDoes(draft, goesOn) {
  if (draft.isComplete) return "Keep";
  return goesOn ? "On to the temperature" : "Type both values";
}

function takenAt({ elapsedS }) {
  return elapsedS < 60 ? `${elapsedS.toFixed(1)} s` : countDown(elapsedS);
}

function paintBand(batch, draft, last) {
  const typed = draft.isNumber("reading");
  show($("band"), typed);
  if (!typed) return;
  const { low, highest } = bandOf(batch, last);
  const now = Number(draft.values.reading);
  if (last && now > highest)
    say(
      $("band"),
      `Higher than before by ${Number((now - Number(last.reading)).toPrecision(8))}. Look again: the stem, the cylinder's number, the temperature. It can be kept as it is.`,
    );
  else if (now < low || now > highest) say($("band"), `Not on the stem: ${low} to ${highest} ${batch.unit}.`);
  else
    say(
      $("band"),
      `Usual: ${low} to ${highest} ${batch.unit}${last ? `, not above ${batch.step} more than before` : ", the ends of the stem"}.`,
    );
}

/* What looks wrong, asked before it is kept. */
export function paintAsked(sentences) {
  show($("ask"), sentences.length > 0);
  const list = $("ask-list");
  if ([...list.children].map((item) => item.textContent).join() === sentences.join()) return;
  list.replaceChildren(
    ...sentences.map((sentence) => {
      const item = document.createElement("li");
      item.textContent = sentence;
      return item;
    }),
  );
}

/* `answersTo` gives what a person can do about a refused entry: [words, what happens]. */
export function paintRefused(refused, answersTo) {
  show($("refused"), refused.length > 0);
  const list = $("refused-list");
  const now = refused.map((entry) => `${entry.n}: ${answersTo(entry).map(([words]) => words)}`).join();
  if (list.dataset.shown === now) return;
  list.dataset.shown = now;
  list.replaceChildren(...refused.map((entry) => refusedItem(entry, answersTo(entry))));
}

function refusedItem(entry, answers) {
  const item = document.createElement("li");
  const words = document.createElement("p");
  const what = document.createElement("span");
  what.className = "refused-what";
  what.textContent = entry.told;
  words.append(what, entry.sentence);
  const acts = document.createElement("div");
  acts.className = "refused-acts";
  acts.append(...answers.map(([label, act]) => actButton(label, act)));
  item.append(words, acts);
  return item;
}

export function actButton(label, act) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button button-quiet";
  button.textContent = label;
  button.addEventListener("click", act);
  return button;
}
