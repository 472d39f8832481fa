// The bench: one next action, one pad. Every entry lies on the tablet before it is sent.

import { clockOfThisPage } from "./clock.js";
import { earlierReadings, paintCylinders, paintEntry, paintKept, paintNext, paintRefused } from "./bench-view.js";
import { Draft } from "./pad.js";
import { EntryQueue, withEntries } from "./queue.js";
import { nextAction, nextSlot, slotName } from "./schedule.js";
import { signal } from "./signal.js";

const SEND_EVERY_MS = 15_000;
const PAINT_EVERY_MS = 200;
const $ = (id) => document.getElementById(id);
const given = (id) => JSON.parse($(id).textContent);

const page = $("bench");
const person = given("bench-person");
let fromLaboratory = given("bench-state");
const clock = clockOfThisPage(fromLaboratory.now);
const queue = new EntryQueue(page.dataset.entries, person);
let entries = [];
let batch = fromLaboratory;
let chosenPk = null;
let draft = null;

function selectedRun() {
  if (draft?.isTouched) return batch.runs.find((run) => run.pk === draft.run.pk);
  const action = nextAction(batch, clock.nowMs());
  return batch.runs.find((run) => run.pk === (chosenPk ?? action?.run.pk)) ?? batch.runs[0];
}

function draftFor(run) {
  const upcoming = nextSlot(batch, run, clock.nowMs());
  if (!upcoming) return null;
  if (!draft?.isFor(run, upcoming.slot_s)) return new Draft(run, upcoming.slot_s);
  draft.run = run; // same cylinder, newer facts
  return draft;
}

function paint() {
  const nowMs = clock.nowMs();
  const action = nextAction(batch, nowMs);
  const run = selectedRun();
  draft = run ? draftFor(run) : null;
  paintNext(action);
  paintCylinders(batch, nowMs, run?.pk);
  paintEntry(batch, run, draft, nowMs);
  signal(action);
}

async function readQueue() {
  entries = await queue.all();
  batch = withEntries(fromLaboratory, entries);
  const own = entries.filter((entry) => entry.by === person.pk);
  const waiting = own.filter((entry) => entry.state === "waiting");
  const refused = entries.filter((entry) => entry.state === "refused");
  const others = entries.filter((entry) => entry.state === "waiting" && entry.by !== person.pk);
  paintKept(waiting.length, refused.length, cannotKeep || sleepWords() || queue.trouble, others);
  paintRefused(refused, dismiss);
  paint();
}

function sleepWords() {
  return clock.sleptMs() ? "The tablet slept or its clock was moved: connect it, so that it takes the laboratory's time." : "";
}

async function dismiss(n) {
  await queue.forget(n);
  await readQueue();
}

async function askLaboratory() {
  const sentAt = performance.now();
  const answer = await fetch(page.dataset.state, { headers: { Accept: "application/json" } });
  if (!answer.ok || answer.redirected) return;
  const state = await answer.json();
  clock.compare(Date.parse(state.now), sentAt, performance.now());
  fromLaboratory = state;
  await queue.forgetStored();
}

async function exchange() {
  await queue.flush();
  await readQueue();
  // Without a network the answer does not come; the entries stay laid over the last known state.
  await askLaboratory().catch((error) => console.info("The laboratory cannot be reached:", error.message));
  await readQueue();
}

let cannotKeep = "";

async function keep(kind, content, told) {
  try {
    await queue.keep(kind, content, told);
  } catch (error) {
    // The draft stays on the screen: nothing typed is lost in silence.
    cannotKeep = "This tablet could not keep what was just typed. Write it on paper, then try again.";
    await readQueue();
    return false;
  }
  cannotKeep = "";
  draft = null;
  chosenPk = null;
  await readQueue();
  await exchange();
  return true;
}

const SECOND_TAP_MS = 2000;
let lastStartMs = -Infinity;

async function start() {
  const run = selectedRun();
  // A second tap belongs to the cylinder just started, never to the next one that has moved under the finger.
  if (performance.now() - lastStartMs < SECOND_TAP_MS) return;
  lastStartMs = performance.now();
  const startedAt = new Date(clock.nowMs()).toISOString();
  if (run.started_at) return;
  run.started_at = startedAt; // at once, so that a second tap finds it started
  const content = { run: String(run.pk), started_at: startedAt, source: "tablet" };
  if (!(await keep("start", content, `Start of cylinder ${run.cylinder}`))) run.started_at = null;
}

function keepReading() {
  if (!draft?.isComplete) return;
  const content = draft.content();
  const value = draft.above ? "above the scale" : content.reading;
  keep("reading", content, `Cylinder ${draft.run.cylinder}, ${slotName(draft.slotS)}: ${value}, ${content.temperature_c} °C at ${content.elapsed_s} s`);
}

function keepMissed() {
  const typed = $("other-reason").value.trim();
  const reason = typed || document.querySelector('input[name="why"]:checked')?.value || "";
  if (!reason) {
    $("other-reason").focus();
    return;
  }
  const told = `Cylinder ${draft.run.cylinder}, ${slotName(draft.slotS)}: missed`;
  keep("reading", draft.missedContent(reason), told);
  $("missed").open = false;
  $("other-reason").value = "";
  document.querySelectorAll('input[name="why"]').forEach((radio) => (radio.checked = false));
}

function press(key) {
  draft?.press(key, clock.nowMs());
  paint();
}

function goOn() {
  if (draft?.isComplete) keepReading();
  else if (draft?.isNumber("reading")) draft.field = "temperature_c";
  paint();
}

function takeAnew() {
  if (!draft) return;
  draft.takenMs = clock.nowMs();
  draft.field = "reading";
  paint();
}

function lastValue(field) {
  return earlierReadings(batch, draft).find((reading) => reading[field])?.[field];
}

function stepBy(direction) {
  if (!draft) return;
  const step = draft.field === "reading" ? batch.step : 0.1;
  draft.step(direction, step, lastValue(draft.field), clock.nowMs());
  paint();
}

/* Another cylinder is shown only when nothing typed would be lost by it. */
function choose(pk, tile) {
  tile.blur(); // so that Enter goes on with the entry, not with the tile
  if (draft?.isTouched && draft.run.pk !== pk) {
    cannotKeep = `Cylinder ${draft.run.cylinder}: keep or clear what is typed first.`;
    readQueue();
    return;
  }
  cannotKeep = "";
  lastStartMs = -Infinity; // chosen on purpose: no second tap
  if (draft?.run.pk === pk) return;
  chosenPk = pk;
  draft = null;
}

function onClick(event) {
  const button = event.target.closest("button");
  if (!button) return;
  const { key, step, run, switch: field } = button.dataset;
  if (key) press(key);
  else if (step) stepBy(Number(step));
  else if (field && draft) draft.field = field;
  else if (run) choose(Number(run), button);
  paint();
}

const KEYS = { Backspace: "back", ",": ".", ".": ".", "-": "-" };

function onKey(event) {
  if (event.target.matches("input, textarea, select") || event.ctrlKey || event.metaKey || event.altKey) return;
  const onButton = event.target.matches("button, summary, a");
  const key = /^\d$/.test(event.key) ? event.key : KEYS[event.key];
  if (key) press(key);
  else if (event.key === "Enter" && !onButton) goOn();
  else if (event.key === "ArrowUp") stepBy(1);
  else if (event.key === "ArrowDown") stepBy(-1);
  else return;
  event.preventDefault();
}

page.addEventListener("click", onClick);
document.addEventListener("keydown", onKey);
$("start").addEventListener("click", start);
$("read-now").addEventListener("click", takeAnew);
$("above").addEventListener("click", () => draft?.goAbove(clock.nowMs()));
$("keep").addEventListener("click", goOn);
$("keep-missed").addEventListener("click", keepMissed);
window.addEventListener("online", exchange);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && exchange());
setInterval(exchange, SEND_EVERY_MS);
setInterval(paint, PAINT_EVERY_MS);
navigator.storage?.persist?.();
readQueue().then(exchange);
