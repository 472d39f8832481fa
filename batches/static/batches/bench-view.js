// Paints what the bench knows; decides nothing and keeps nothing.

import { countDown, dueOf, elapsedS, nextSlot, openSlots, slotName } from "./schedule.js";

const $ = (id) => document.getElementById(id);
const STATE_WORDS = { running: "settling", due: "read now", late: "late", done: "all read", soaking: "not started" };

function show(node, shown) {
  if (node.hidden === shown) node.hidden = !shown;
}

function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

export function paintKept(waiting, refused, trouble, others) {
  const kept = document.getElementById("kept");
  kept.dataset.kept = refused || trouble ? "attention" : waiting ? "tablet" : "laboratory";
  const words = [waiting ? `kept on this tablet (${waiting} waiting)` : "kept by the laboratory"];
  if (refused) words.push(`${refused} not taken, see the list`);
  say(kept.querySelector(".kept-words"), words.join("; "));
  const names = [...new Set(others.map((entry) => entry.by_name))].join(" and ");
  const notice = [trouble, others.length ? `${others.length} taken by ${names} wait here until ${names} logs in.` : ""];
  const text = notice.filter(Boolean).join(" ");
  say($("notice"), text);
  show($("notice"), text !== "");
}

export function paintNext(action) {
  $("next").dataset.due = action?.due ?? "soon";
  const [verb, timed] = action ? [action.verb, "inS" in action] : ["Nothing is left to read", false];
  if ($("next-verb").textContent !== verb || $("next-number").textContent !== (action?.run.cylinder ?? "")) {
    $("spoken").textContent = action ? `${verb}: cylinder ${action.run.cylinder}` : verb;
  }
  say($("next-verb"), verb);
  show($("next-cylinder"), Boolean(action));
  show($("next-time"), timed);
  if (!action) return;
  say($("next-number"), action.run.cylinder);
  say($("next-holds"), action.run.title);
  if (!timed) return;
  say($("next-to"), `${action.inS < 0 ? "after" : "to"} the ${slotName(action.slot_s)} reading`);
  say($("next-clock"), countDown(action.inS));
}

function stateOf(batch, run, upcoming) {
  if (!run.started_at) return "soaking";
  if (!upcoming) return "done";
  return { soon: "running", now: "due", late: "late" }[dueOf(upcoming.inS)];
}

export function paintCylinders(batch, nowMs, selectedPk) {
  for (const run of batch.runs) {
    const button = document.querySelector(`[data-run="${run.pk}"]`);
    const upcoming = nextSlot(batch, run, nowMs);
    const state = stateOf(batch, run, upcoming);
    if (button.dataset.state !== state) button.dataset.state = state;
    const read = batch.schedule_s.length - openSlots(batch, run).length;
    say(button.querySelector(".cylinder-state"), STATE_WORDS[state]);
    say(button.querySelector(".cylinder-slot"), upcoming ? slotName(upcoming.slot_s) : `${read} of ${batch.schedule_s.length}`);
    say(button.querySelector(".cylinder-time"), upcoming ? countDown(upcoming.inS) : "");
    button.toggleAttribute("aria-current", run.pk === selectedPk);
  }
}

export function paintEntry(batch, run, draft, nowMs) {
  show($("entry"), Boolean(run));
  if (!run) return;
  const reading = Boolean(draft);
  const starting = !run.started_at && batch.may_start;
  say($("entry-title"), title(batch, run, draft, nowMs));
  show($("start-panel"), starting);
  show($("read-panel"), reading && batch.may_read);
  show($("nothing-open"), !starting && !(reading && batch.may_read));
  say($("nothing-open"), batch.may_read || batch.may_start ? "Every slot of this cylinder is filled." : `The batch is “${batch.state}”: nothing is read now.`);
  if (reading) paintDraft(batch, draft);
}

function title(batch, run, draft, nowMs) {
  const place = `Cylinder ${run.cylinder}, ${run.title}`;
  if (!run.started_at) return `${place}: not started`;
  const since = countDown(Math.max(0, elapsedS(run, nowMs)));
  return draft ? `${place}: ${slotName(draft.slotS)} reading, ${since} since the start` : `${place}: ${since} since the start`;
}

/* What was read before in the same cylinder, newest slot first. */
export function earlierReadings(batch, draft) {
  return batch.schedule_s
    .filter((slot) => slot < draft.slotS && draft.run.readings[slot])
    .map((slot) => ({ slot, ...draft.run.readings[slot] }))
    .reverse();
}

function paintDraft(batch, draft) {
  const before = earlierReadings(batch, draft);
  const lastReading = before.find((reading) => reading.reading);
  const lastTemperature = before.find((reading) => reading.temperature_c);
  for (const field of Object.keys(draft.values)) {
    const shown = field === "reading" && draft.above ? "above" : draft.values[field];
    say($(`value-${field}`), shown || "\u00a0");
    document.querySelector(`[data-field="${field}"]`).classList.toggle("is-active", draft.field === field);
  }
  say($("read-now"), draft.takenMs === null ? "Read now" : `Taken at ${takenAt(draft)}: take anew`);
  say($("previous-reading"), lastReading ? `Before: ${lastReading.reading} ${batch.unit} at ${slotName(lastReading.slot)}` : "No reading before");
  say($("previous-temperature_c"), lastTemperature ? `Before: ${lastTemperature.temperature_c} °C at ${slotName(lastTemperature.slot)}` : "No temperature before");
  paintBand(batch, draft, lastReading);
  const step = draft.field === "reading" ? batch.step : 0.1;
  const [down, up] = document.querySelectorAll("[data-step]");
  say(down, `− ${step}`);
  say(up, `+ ${step}`);
  $("above").setAttribute("aria-pressed", String(draft.above));
  const goesOn = draft.field === "reading" && draft.isNumber("reading");
  $("keep").disabled = !draft.isComplete && !goesOn;
  say($("keep"), draft.isComplete ? "Keep" : goesOn ? "On to the temperature" : "Type both values");
}

function takenAt(draft) {
  const seconds = (draft.takenMs - Date.parse(draft.run.started_at)) / 1000;
  return seconds < 60 ? `${seconds.toFixed(1)} s` : countDown(seconds);
}

/* Shown only after a value is typed: a reader who sees the band reads the band. */
function paintBand(batch, draft, last) {
  const typed = draft.isNumber("reading") && last;
  show($("band"), Boolean(typed));
  if (!typed) return;
  const [before, now] = [Number(last.reading), Number(draft.values.reading)];
  const highest = Number((before + batch.step).toPrecision(8));
  const more = Number((now - before).toPrecision(8));
  say(
    $("band"),
    now > highest
      ? `Higher than before by ${more}. Look again: the stem, the cylinder's number, the temperature. It can be kept as it is.`
      : `Usual: not above ${highest} ${batch.unit}, ${batch.step} more than before.`,
  );
}

export function paintRefused(refused, dismiss) {
  show($("refused"), refused.length > 0);
  const list = $("refused-list");
  const shown = [...list.children].map((item) => item.dataset.n).join();
  if (shown === refused.map((entry) => String(entry.n)).join()) return;
  list.replaceChildren(...refused.map((entry) => refusedItem(entry, dismiss)));
}

function refusedItem(entry, dismiss) {
  const item = document.createElement("li");
  item.dataset.n = entry.n;
  const words = document.createElement("p");
  const what = document.createElement("span");
  what.className = "refused-what";
  what.textContent = entry.told;
  words.append(what, entry.sentence);
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button button-quiet";
  button.textContent = "I have read it";
  button.addEventListener("click", () => dismiss(entry.n));
  item.append(words, button);
  return item;
}
