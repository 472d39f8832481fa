// The bench: one next action, one pad. Every entry lies on the tablet before it is sent.

// biome-ignore lint/correctness/noUnresolvedImports: the two folders lie side by side once they are served
import { mayLeave, saveAsFile } from "../../labsite/what-waits.js";
import { Acts } from "./acts.js";
import { carriedTemperature, earlierReadings, whatLooksWrong } from "./checks.js";
import { aheadOfAnchor, answerBeganAt, LaboratoryClock, PROVEN_MS } from "./clock.js";
import { signal } from "./due-alert.js";
import {
  canOpenOffline,
  forgetBench,
  keepBench,
  keepState,
  keptState,
  servedByTablet,
  workerCounter,
} from "./offline.js";
import { withEntries } from "./overlay.js";
import { BlankDraft, Draft } from "./pad.js";
import { EntryQueue } from "./queue.js";
import { roomOf } from "./room.js";
import { actionsAfter, dueList, heldRun, lateSlots, nextAction, nextSlot, openSlots } from "./schedule.js";
import { entryStore, keepAnchor, keptAnchor } from "./tablet-store.js";
import {
  paintAsked,
  paintCylinders,
  paintDue,
  paintElsewhere,
  paintEntry,
  paintKept,
  paintLate,
  paintNext,
  paintRefused,
} from "./view.js";

const SEND_EVERY_MS = 15_000;
const PAINT_EVERY_MS = 200;
const TAKE_BACK_MS = 120_000; // so long a reading given as missed can be taken back beside it
const $ = (id) => document.getElementById(id);
const given = (id) => JSON.parse($(id).textContent);

const page = $("bench");
const person = given("bench-person");
const expected = given("bench-expected"); // the soils a reading is compared with, by schedule
const clock = new LaboratoryClock();
const queue = new EntryQueue(page.dataset.entries, person, entryStore);

/* All that changes while the page is open. */
const bench = {
  fromLaboratory: given("bench-state"), // the batches as the laboratory last gave them
  entries: [], // what lies on this tablet
  room: null, // both together
  chosen: null, // the cylinder that was tapped, with its slot where one was
  step: "", // what is to be done now, and where
  gaveUp: null, // the late reading that was given as missed last
  seen: new Set(), // questions and refusals that were brought into sight
  reopened: new Set(), // slots given as missed by mistake, as “pk slot”
  lastMissedMs: -Infinity,
  shownPk: null, // the cylinder whose panel is shown
  draft: null, // the value being typed
  heard: !servedByTablet, // whether the laboratory answered last
  asked: [], // what looks wrong in the draft, asked before it is kept
  cannotKeep: "", // why the tablet did not do what was tapped
  doubtAskedFor: null, // the clock in doubt for which the laboratory was asked
  lastSettled: null, // the clock that was last compared with the laboratory's
  isKept: !canOpenOffline, // whether the tablet can open this page without a network
  lastStartMs: -Infinity,
};
bench.room = roomOf(bench.fromLaboratory.batches, bench.fromLaboratory.plan, expected);

/* The reading in the pad that is not kept yet. */
function typedReading() {
  const { draft } = bench;
  if (!draft?.isTouched || !(draft.above || draft.isNumber("reading"))) return null;
  const { run, slotS, elapsedS, isComplete } = draft;
  return { pk: run.pk, slotS, elapsedS, isComplete };
}

const actionNow = () => nextAction(bench.room, clock.nowMs(), person.name, typedReading());

function selectedRun(action) {
  if (bench.draft?.isTouched) return bench.room.runs.find((run) => run.pk === bench.draft.run.pk);
  const pk = bench.chosen?.pk ?? action?.run.pk;
  return bench.room.runs.find((run) => run.pk === pk) ?? bench.room.runs[0];
}

/* The slot the pad is for: the one that was tapped while it is open, or else the cylinder's next. */
function slotFor(run) {
  const { pk, slotS } = bench.chosen ?? {};
  if (pk === run.pk && slotS && openSlots(run.of, run).includes(slotS)) return slotS;
  return nextSlot(run.of, run, clock.nowMs())?.slot_s ?? null;
}

/* While an opening block lasts its pad comes back with each step of it, unless something is typed or a panel is
   open: what is read in that cylinder must not go into another. */
function holdPad(action) {
  const step = action ? `${action.kind} ${action.run.pk} ${action.slot_s}` : "";
  if (step === bench.step) return;
  bench.step = step;
  const held = heldRun(bench.room, clock.nowMs(), person.name);
  if (held && held === action?.run && !bench.draft?.isTouched && !acts.isOpen && !$("missed").open)
    bench.chosen = null;
}

function draftFor(run, action) {
  const slotS = slotFor(run);
  if (action?.kind === "blank" && action.run.pk === run.pk && !bench.draft?.isTouched && !bench.chosen?.slotS)
    return bench.draft instanceof BlankDraft && bench.draft.run.pk === run.pk
      ? bench.draft
      : new BlankDraft(run);
  const stays =
    bench.draft &&
    bench.draft.run.pk === run.pk &&
    (bench.draft.isTouched || bench.draft instanceof BlankDraft || bench.draft.slotS === slotS);
  if (!stays) return slotS === null ? null : new Draft(run, slotS, whyCorrected(run, slotS));
  bench.draft.follow(run);
  return bench.draft;
}

const whyCorrected = (run, slotS) =>
  bench.reopened.has(`${run.pk} ${slotS}`) ? "Given as missed by mistake." : "";

function paint() {
  clock.watch();
  if (clock.doubt && clock.id !== bench.doubtAskedFor) {
    bench.doubtAskedFor = clock.id;
    exchange();
  }
  const nowMs = clock.nowMs();
  const action = actionNow();
  holdPad(action);
  const run = selectedRun(action);
  bench.draft = run ? draftFor(run, action) : null;
  bench.shownPk = run?.pk;
  if (!bench.draft?.isComplete) bench.asked = [];
  paintNext(action, actionsAfter(bench.room, nowMs, action, person.name, typedReading()));
  paintElsewhere(heldRun(bench.room, nowMs, person.name), run);
  paintLate(lateNow(action, nowMs), bench.gaveUp);
  paintDue(bench.room, dueList(bench.room, nowMs, person.name), nowMs);
  paintCylinders(bench.room, nowMs, run?.pk);
  paintEntry(run, bench.draft, clock);
  paintAsked(bench.asked);
  acts.paint(run);
  showAsked();
  signal(action);
}

/* What is typed just now is late no more, and is not taken away by a tap beside it. */
function lateNow(action, nowMs) {
  const { draft } = bench;
  if (performance.now() - bench.lastMissedMs > TAKE_BACK_MS) bench.gaveUp = null;
  return lateSlots(bench.room, nowMs, action, person.name).filter(
    ({ run, slot_s }) => !(draft?.isTouched && draft.isFor(run, slot_s)),
  );
}

async function readQueue() {
  bench.entries = await queue.all();
  const { batches, plan } = bench.fromLaboratory;
  const laid = batches.map((batch) => withoutReopened(withEntries(batch, bench.entries)));
  bench.room = roomOf(laid, plan, expected);
  const waiting = bench.entries.filter((entry) => entry.state === "waiting");
  const own = waiting.filter((entry) => entry.by === person.pk);
  const refused = bench.entries.filter((entry) => entry.state === "refused");
  const others = waiting.filter((entry) => entry.by !== person.pk);
  paintKept(own.length, refused.length, bench.cannotKeep || queue.trouble, others, silence());
  paintRefused(refused, answersTo);
  paint();
}

/* Why what is shown may be old, and its time unproven; '' while the laboratory answers. */
function silence() {
  if (bench.heard && !clock.doubt) return "";
  const since = new Date(bench.fromLaboratory.now).toLocaleTimeString("en-GB");
  const words = bench.heard
    ? ""
    : `The laboratory does not answer. Shown is the bench as it was at ${since}, with what lies on this tablet.`;
  const doubt = clock.doubt
    ? "Nothing proves this tablet's time until the laboratory answers: readings are kept and their times checked then."
    : "";
  return [words, doubt].filter(Boolean).join(" ");
}

/* A slot given as missed by mistake is open again; when it is read after all, that is kept beside it. */
function withoutReopened(batch) {
  for (const run of batch.runs)
    for (const slot of batch.schedule_s) {
      const place = `${run.pk} ${slot}`;
      if (!bench.reopened.has(place)) continue;
      if (run.readings[slot]?.state === "missed") delete run.readings[slot];
      else if (run.readings[slot]) bench.reopened.delete(place);
    }
  return batch;
}

function answersTo(entry) {
  const read = ["I have read it", () => dismiss(entry.n)];
  const run = bench.room.runs.find((each) => String(each.pk) === entry.content.run);
  if (entry.by !== person.pk || !run) return [read];
  // Two values for one reading: both are kept, and somebody chooses where they stand side by side.
  const slot = entry.content.slot_s;
  if (entry.kind === "reading" && run.readings[slot])
    return [["Compare the two", () => location.assign(`${run.of.paper}?run=${run.pk}#slot-${slot}`)], read];
  if (entry.kind === "reading" && entry.content.elapsed_s)
    return [["Put it right", () => putRight(entry)], read];
  if (entry.kind === "start" && run.started_at) {
    const held = Object.keys(run.readings).length;
    const yes = `Stirred again: new zero, ${held} readings void`;
    return [
      [yes, () => secondStart(entry, run)],
      ["Not stirred again: the first start stays", read[1]],
    ];
  }
  return [read];
}

async function dismiss(n) {
  await queue.forget(n);
  await readQueue();
}

async function secondStart(entry, run) {
  if (await acts.newZero(run, entry.content.started_at, "A second start: it was stirred again."))
    await dismiss(entry.n);
}

/* Back into the pad, with its value and the moment it was read at. */
function putRight(entry) {
  if (bench.draft?.isTouched && bench.draft.replaces !== entry.n) return tellToFinish();
  const run = bench.room.runs.find((each) => String(each.pk) === entry.content.run);
  bench.draft = Draft.from(entry, run);
  bench.chosen = { pk: run.pk };
  paint();
}

async function askLaboratory() {
  const sentAt = performance.now();
  const answer = await fetch(page.dataset.state, { headers: { Accept: "application/json" } });
  if (answer.redirected || answer.status === 403) await forgetBench();
  if (!answer.ok || answer.redirected) throw new Error(`it answered ${answer.status}`);
  if (Number(answer.headers.get("Siltbook-Person")) !== person.pk)
    throw new Error("somebody else is logged in");
  const state = await answer.json();
  const { id, doubt } = clock;
  const aheadMs = clock.compare(Date.parse(state.now), sentAt, performance.now());
  if (doubt) await settleTimes(id, aheadMs, true);
  bench.fromLaboratory = state;
  await keepState(state);
  await queue.forgetStored();
}

/* The laboratory's time is known again: what was taken meanwhile is put right, or proven. */
async function settleTimes(id, aheadMs, isBridged) {
  bench.lastSettled = { id, aheadMs, isBridged };
  await queue.settleTimes(id, aheadMs, isBridged);
  bench.draft?.settle(id, aheadMs, PROVEN_MS);
}

/* An entry may reach the queue just after its clock was settled. */
async function settleLatecomers() {
  if (!bench.lastSettled || clock.doubt || !(await queue.hasDoubts())) return;
  await settleTimes(bench.lastSettled.id, bench.lastSettled.aheadMs, bench.lastSettled.isBridged);
}

async function exchange() {
  // A time in doubt is settled before anything of it is sent.
  if (!clock.doubt && !(await queue.hasDoubts())) await queue.flush();
  await readQueue();
  try {
    await askLaboratory();
    bench.heard = true;
    await settleLatecomers();
    if (await queue.flush()) await askLaboratory();
    if (!bench.isKept) keepForLater();
  } catch (error) {
    // Without a network the entries stay laid over the last known state.
    bench.heard = false;
    console.info("The laboratory cannot be reached:", error.message);
  }
  await readQueue();
  await keepAnchor(clock.anchor(await workerCounter()));
}

/* Once the laboratory answers; without a network it is tried again after the next answer. */
async function keepForLater() {
  bench.isKept = true;
  try {
    await keepBench();
    await keepState(bench.fromLaboratory);
  } catch (error) {
    bench.isKept = false;
    console.info("This page cannot be kept on the tablet yet:", error.message);
  }
}

/* Returns the number of the entry, or null when the tablet could not keep it. */
async function keep(kind, content, told, doubt = null) {
  let n;
  try {
    n = await queue.keep(kind, content, told, doubt);
  } catch {
    // What was typed stays on the screen: nothing is lost in silence.
    bench.cannotKeep = "This tablet could not keep what was just typed. Write it on paper, then try again.";
    await readQueue();
    return null;
  }
  bench.cannotKeep = "";
  await readQueue();
  exchange().then(() => backIntoThePad(n));
  return n;
}

function backIntoThePad(n) {
  const entry = bench.entries.find(
    (each) => each.n === n && each.state === "refused" && each.kind === "reading",
  );
  if (entry?.content.elapsed_s && !bench.draft?.isTouched) putRight(entry);
}

const SECOND_TAP_MS = 2000;

async function start() {
  const run = bench.room.runs.find((each) => each.pk === bench.shownPk);
  // A second tap belongs to the cylinder just started, never to the next one that has moved under the finger.
  if (performance.now() - bench.lastStartMs < SECOND_TAP_MS) return;
  bench.lastStartMs = performance.now();
  const startedAt = new Date(clock.nowMs()).toISOString();
  if (run.started_at || clock.doubt) return;
  run.started_at = startedAt; // at once, so that a second tap finds it started
  bench.chosen = null;
  const content = { run: String(run.pk), started_at: startedAt, source: "tablet" };
  if ((await keep("start", content, `Start of cylinder ${run.cylinder}`)) === null) run.started_at = null;
}

async function keepDraft(content, told) {
  const kept = bench.draft;
  bench.draft = null;
  if ((await keep(kept.kind, content, told, kept.doubt)) === null) {
    bench.draft = kept;
    return;
  }
  bench.chosen = null;
  if (kept.replaces !== null) await dismiss(kept.replaces);
}

function keepReading(sure) {
  if (!bench.draft?.isComplete) return;
  bench.asked = sure ? [] : whatLooksWrong(bench.draft.run.of, bench.draft);
  if (bench.asked.length) return;
  const content = bench.draft.content();
  const value = bench.draft.above ? "above the scale" : content.reading;
  keepDraft(
    content,
    `Cylinder ${bench.draft.run.cylinder}, ${bench.draft.name}: ${value}, ${content.temperature_c} °C at ${content.elapsed_s} s`,
  );
}

function keepMissed() {
  const typed = $("other-reason").value.trim();
  const reason = typed || document.querySelector('input[name="why"]:checked')?.value || "";
  if (!reason || bench.draft?.kind !== "reading") {
    $("other-reason").focus();
    return;
  }
  keepDraft(
    { ...bench.draft.missedContent(reason) },
    `Cylinder ${bench.draft.run.cylinder}, ${bench.draft.name}: missed`,
  );
  $("missed").open = false;
  $("other-reason").value = "";
  for (const radio of document.querySelectorAll('input[name="why"]')) radio.checked = false;
}

/* One tap, with the reason of whoever had another cylinder in hand. It can be taken back. */
async function giveAsMissed(pk, slotS) {
  // The next late reading has moved under the finger: a second tap is not for it.
  if (performance.now() - bench.lastMissedMs < SECOND_TAP_MS) return;
  const run = bench.room.runs.find((each) => each.pk === pk);
  const draft = new Draft(run, slotS);
  bench.lastMissedMs = performance.now();
  bench.reopened.delete(`${pk} ${slotS}`);
  const told = `Cylinder ${run.cylinder}, ${draft.name}: missed`;
  if ((await keep("reading", draft.missedContent($("why-another").value), told)) === null) return;
  bench.gaveUp = { pk, slotS, cylinder: run.cylinder };
  if (bench.chosen?.pk === pk && bench.chosen.slotS === slotS) bench.chosen = null;
  paint();
}

function takeMissedBack() {
  bench.reopened.add(`${bench.gaveUp.pk} ${bench.gaveUp.slotS}`);
  bench.gaveUp = null;
  readQueue();
}

function press(key) {
  bench.asked = [];
  bench.draft?.press(key, clock);
}

function goOn() {
  if (bench.draft?.isComplete) keepReading(false);
  else if (bench.draft?.isNumber("reading")) bench.draft.field = "temperature_c";
}

function takeAnew() {
  if (!bench.draft) return;
  bench.draft.takeAnew(clock);
  bench.draft.field = "reading";
}

function stepBy(direction) {
  if (!bench.draft) return;
  if (direction === 0 && bench.draft.field === "temperature_c") return carryTemperature();
  const batch = bench.draft.run.of;
  const step = bench.draft.field === "reading" ? batch.step : 0.1;
  const last = earlierReadings(batch, bench.draft).find((reading) => reading[bench.draft.field])?.[
    bench.draft.field
  ];
  bench.asked = [];
  bench.draft.step(direction, step, last, clock);
}

function carryTemperature() {
  const temperatureC = bench.draft && carriedTemperature(bench.draft.run.of, bench.draft, clock.nowMs());
  if (!temperatureC) return;
  bench.asked = [];
  bench.draft.carry(temperatureC);
}

function throwAway() {
  bench.draft = null;
  bench.asked = [];
  bench.cannotKeep = "";
  $("throw-panel").open = false;
  readQueue();
}

function tellToFinish() {
  bench.cannotKeep = `Cylinder ${bench.draft.run.cylinder}: keep or clear what is typed first.`;
  readQueue();
}

/* Another cylinder is shown only when nothing typed would be lost by it. */
function choose(pk, tile, slotS = null) {
  tile.blur(); // so that Enter goes on with the entry, not with the tile
  if (
    bench.draft?.isTouched &&
    !(bench.draft.run.pk === pk && (slotS ?? bench.draft.slotS) === bench.draft.slotS)
  )
    return tellToFinish();
  bench.cannotKeep = "";
  bench.lastStartMs = -Infinity; // chosen on purpose: no second tap
  if (bench.draft?.run.pk === pk && slotS === null) return;
  bench.chosen = { pk, slotS };
  bench.draft = null;
  $("missed").open = false;
  inSight();
}

/* On a telephone the pad scrolls with the page: it is brought back into sight. */
function inSight() {
  paint();
  const { top } = $("entry").getBoundingClientRect();
  if (top < 0 || top > innerHeight / 2) $("entry").scrollIntoView({ block: "start" });
}

/* What asks for an answer comes into sight, once, whatever the page is scrolled to. */
function showAsked() {
  for (const id of ["ask", "refused", "notice"]) {
    const node = $(id);
    if (node.hidden) bench.seen.delete(id);
    else if (!bench.seen.has(id)) {
      bench.seen.add(id);
      (id === "ask" ? $("keep-asked") : node).scrollIntoView({ block: "nearest" });
    }
  }
}

/* What sticks to the top hides nothing that is scrolled to or has the focus. */
function keepClear() {
  const sticks = getComputedStyle($("station")).position === "sticky" ? $("station") : $("next");
  const height = `${Math.round(sticks.offsetHeight)}px`;
  const { style } = document.documentElement;
  if (style.scrollPaddingTop !== height) style.scrollPaddingTop = height;
}

/* The panel of a missed reading is for the slot it was opened for. */
function holdMissed() {
  if ($("missed").open && bench.draft)
    bench.chosen = { pk: bench.draft.run.pk, slotS: Number(bench.draft.slotS) };
}

function onClick(event) {
  const button = event.target.closest("button");
  if (!button) return;
  const { key, step, run, slot, missed, switch: field } = button.dataset;
  if (missed) giveAsMissed(Number(run), Number(missed));
  else if (key) press(key);
  else if (step) stepBy(Number(step));
  else if (field && bench.draft) bench.draft.field = field;
  else if (run) choose(Number(run), button, slot ? Number(slot) : null);
  paint();
}

const KEYS = { Backspace: "back", ",": ".", ".": ".", "-": "-" };

function onKey(event) {
  if (event.target.matches("input, textarea, select") || event.ctrlKey || event.metaKey || event.altKey)
    return;
  const onButton = event.target.matches("button, summary, a");
  const key = /^\d$/.test(event.key) ? event.key : KEYS[event.key];
  if (key) press(key);
  else if (event.key === "Enter" && !onButton) goOn();
  else if (event.key === "ArrowUp") stepBy(1);
  else if (event.key === "ArrowDown") stepBy(-1);
  else return;
  event.preventDefault();
  paint();
}

const acts = new Acts({
  keep,
  clock,
  stayWith(pk) {
    bench.chosen = pk === null ? null : { pk };
  },
  readOnceMore(run) {
    if (bench.draft?.isTouched) return tellToFinish();
    bench.draft = new BlankDraft(run);
    bench.chosen = { pk: run.pk };
    bench.cannotKeep = "";
    inSight();
  },
  get room() {
    return bench.room;
  },
});

const others = () => bench.entries.filter((each) => each.state === "waiting" && each.by !== person.pk);

/* What somebody else took and left here goes in under their name, with this person as the witness. */
async function handIn() {
  $("hand-in").disabled = true;
  await queue.handIn();
  await exchange();
  $("hand-in").disabled = false;
}

/* Leaving says what waits, and that without a network nothing but the bench opens. */
async function leave(event) {
  const waiting = bench.entries.filter((each) => each.state === "waiting" && each.by === person.pk);
  if (bench.heard && !waiting.length) return;
  event.preventDefault();
  const { href } = event.currentTarget;
  const words = [
    waiting.length
      ? "What you took waits here and goes in once this page is open and the laboratory answers."
      : "",
    bench.heard
      ? ""
      : "The laboratory does not answer: no other page opens, only this one can be opened again.",
  ];
  const told = {
    title: "Leave the bench?",
    words: words.filter(Boolean).join(" "),
    leave: "Leave all the same",
  };
  if (await mayLeave(waiting, told)) location.assign(href);
}

/* The time of this page: from the laboratory's answer, or carried over from the page before. */
async function setClock() {
  const anchor = await keptAnchor();
  if (servedByTablet) return clock.carry(anchor, await workerCounter());
  clock.set(Date.parse(bench.fromLaboratory.now), null, undefined, answerBeganAt());
  if (!anchor) return;
  const { aheadMs, isBridged } = aheadOfAnchor(anchor, clock.nowMs(), await workerCounter());
  await settleTimes(anchor.id, aheadMs, isBridged);
}

async function begin() {
  await setClock();
  bench.doubtAskedFor = clock.id;
  await keepAnchor(clock.anchor(await workerCounter()));
  const kept = servedByTablet ? await keptState() : null;
  if (kept && Date.parse(kept.now) > Date.parse(bench.fromLaboratory.now)) bench.fromLaboratory = kept;
  page.addEventListener("click", onClick);
  document.addEventListener("keydown", onKey);
  $("start").addEventListener("click", start);
  $("read-now").addEventListener("click", takeAnew);
  $("above").addEventListener("click", () => bench.draft?.goAbove(clock));
  $("same").addEventListener("click", carryTemperature);
  $("keep").addEventListener("click", goOn);
  $("keep-asked").addEventListener("click", () => keepReading(true));
  $("keep-missed").addEventListener("click", keepMissed);
  $("throw-away").addEventListener("click", throwAway);
  $("late-back").addEventListener("click", takeMissedBack);
  $("missed").addEventListener("toggle", holdMissed);
  $("hand-in").addEventListener("click", handIn);
  $("save-others").addEventListener("click", () => saveAsFile(others()));
  document.querySelector(".bench-leave").addEventListener("click", leave);
  new ResizeObserver(keepClear).observe($("station"));
  new ResizeObserver(keepClear).observe($("next"));
  window.addEventListener("online", exchange);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && exchange());
  setInterval(exchange, SEND_EVERY_MS);
  setInterval(paint, PAINT_EVERY_MS);
  navigator.storage?.persist?.();
  $("offline-hint").hidden = canOpenOffline;
  await readQueue();
  await exchange();
}

begin();
