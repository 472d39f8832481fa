// Which cylinder needs a hand next. Pure: takes the room and a moment, touches neither page nor clock.

import { firstUnplanned, plannedFor } from "./room.js";

export const LOWER_BEFORE_S = 10;

/* Without a timetable a start is proposed only where its opening block fits before the next reading: 105 s, and 45 s
   of a reading before and after it; the comfortable pace of `batches/planning/timetable/day.py`. */
const KEEP_HANDS_FREE_S = 150;
/* So long before a planned start it is stirred. */
const STIR_BEFORE_S = 60;

/* The opening block, common practice: START and the readings to 60 s need one pair of hands. A reading forgotten in
   it holds them no longer than the comfortable pace of `batches/planning/timetable/day.py`. */
const OPENING_SLOTS_TO_S = 60;
const OPENING_LASTS_S = 105;
const RINSE_S = 15; // from a reading until the thermometer is wanted

export function openSlots(batch, run) {
  return run.void ? [] : batch.schedule_s.filter((slot) => !run.readings[slot]);
}

export function elapsedS(run, nowMs) {
  return (nowMs - Date.parse(run.started_at)) / 1000;
}

/* A later slot was read: this one can only be given as missed. */
function isPassed(batch, run, slot) {
  return batch.schedule_s.some((later) => later > slot && isRead(run, later));
}

const at = (run, slot, nowMs) => ({ run, slot_s: slot, inS: slot - elapsedS(run, nowMs) });

/* The slot of a started run that the pad is for, with the seconds until it is due (negative: late): the newest
   that is due, or else the first to come. */
export function nextSlot(batch, run, nowMs) {
  if (!run.started_at) return null;
  const open = openSlots(batch, run);
  const ahead = open.filter((slot) => !isPassed(batch, run, slot));
  const due = ahead.filter((slot) => slot - elapsedS(run, nowMs) <= LOWER_BEFORE_S);
  const slot = due.at(-1) ?? ahead[0] ?? open[0];
  return slot === undefined ? null : at(run, slot, nowMs);
}

export function dueOf(inS) {
  if (inS > LOWER_BEFORE_S) return "soon";
  return inS > -3 ? "now" : "late";
}

const openingSlots = (batch) => batch.schedule_s.filter((slot) => slot <= OPENING_SLOTS_TO_S);

/* Read there: neither open nor missed. */
const isRead = (run, slot) => Boolean(run.readings[slot]) && run.readings[slot].state !== "missed";

/* From START until the hydrometer is rinsed after the last reading of the opening block. */
export function isOpening(batch, run, nowMs) {
  if (!run.started_at || run.void || elapsedS(run, nowMs) > OPENING_LASTS_S) return false;
  return isOpenInBlock(batch, run) || isRinsing(batch, run, nowMs);
}

const isOpenInBlock = (batch, run) =>
  openingSlots(batch).some((slot) => !run.readings[slot] && !isPassed(batch, run, slot));

function isRinsing(batch, run, nowMs) {
  const last = openingSlots(batch).findLast((slot) => isRead(run, slot));
  return last !== undefined && elapsedS(run, nowMs) < Number(run.readings[last].elapsed_s) + RINSE_S;
}

/* Without a name it was started on this tablet a moment ago. */
const isOf = (run, person) => !run.started_by || run.started_by === person;

/* The cylinder whose opening block holds this person's hands: the one started last. */
export function heldRun(room, nowMs, person) {
  const held = room.runs.filter(
    (run) => isOpenBatch(run) && isOpening(run.of, run, nowMs) && isOf(run, person),
  );
  return held.reduce(
    (last, run) => (last && Date.parse(last.started_at) >= Date.parse(run.started_at) ? last : run),
    null,
  );
}

/* Its opening block is in other hands, on another tablet. */
const isElsewhere = (run, nowMs, person) => isOpening(run.of, run, nowMs) && !isOf(run, person);

const isOpenBatch = ({ of: batch }) => batch.may_read || batch.may_start;

/* One verb, one cylinder, one time. From START to the last reading of the opening block nothing but that cylinder.
   Otherwise readings that are due come first, the latest of them before the rest, then what the pad's reading still
   needs, then what the timetable gives this person; a start that it gives nobody is proposed only while hands are
   free and no reading is near. `typed` is the reading in the pad: the pk of its run, its slot, its time and whether
   its temperature is there. */
export function nextAction(room, nowMs, person = null, typed = null) {
  const held = heldRun(room, nowMs, person);
  if (held) return openingAction(held.of, held, nowMs, typed?.pk === held.pk ? typed : null);
  const slots = room.runs
    .filter((run) => isOpenBatch(run) && !isElsewhere(run, nowMs, person))
    .map((run) => nextSlot(run.of, run, nowMs))
    .filter((slot) => slot && !isPassed(slot.run.of, slot.run, slot.slot_s) && !isTyped(slot, typed));
  slots.sort((a, b) => a.inS - b.inS);
  const first = slots[0];
  if (first && first.inS <= LOWER_BEFORE_S) return reading(first);
  const atHand = typed && room.runs.find((run) => run.pk === typed.pk);
  if (atHand) return afterReading(atHand, nowMs, typed);
  const planned = plannedFor(room, nowMs, person)[0];
  if (planned && isItsTurn(planned, first)) return plannedAction(planned);
  const unstarted = firstUnplanned(room);
  if (unstarted && !planned && (!first || first.inS > KEEP_HANDS_FREE_S)) {
    return { run: unstarted, verb: "Start", kind: "start", due: "now" };
  }
  return first ? reading(first) : null;
}

/* Before the next reading, and where it is late with room for it before that. */
function isItsTurn({ kind, inS }, first) {
  if (!first) return true;
  const needsS = kind === "start" ? KEEP_HANDS_FREE_S : 0;
  return inS > -STIR_BEFORE_S ? inS < first.inS : first.inS > needsS;
}

/* An act of the timetable: its time stands beside it like that of a reading. */
function plannedAction({ run, kind, inS }) {
  const due = inS > LOWER_BEFORE_S ? "soon" : dueOf(inS);
  if (kind === "blank" && run.started_at)
    return { run, kind: "blank", inS, due, verb: inS > LOWER_BEFORE_S ? "Next blank" : "Read the blank" };
  if (inS > STIR_BEFORE_S) return { run, kind: "wait start", inS, due: "soon", verb: "Next start" };
  return inS > 0
    ? { run, kind: "stir", inS, due, verb: "Stir it" }
    : { run, kind: "start", inS, due, verb: "Start" };
}

const isTyped = ({ run, slot_s }, typed) => run.pk === typed?.pk && slot_s === typed.slotS;

/* The pair is read with the hydrometer left in; it comes out after the last one. */
function openingAction(batch, run, nowMs, typed) {
  const slots = openingSlots(batch);
  const isInPad = slots.includes(typed?.slotS);
  const toCome = slots.find((each) => each > typed?.slotS && !run.readings[each]);
  if (isInPad && toCome === undefined) return afterReading(run, nowMs, typed);
  if (!isOpenInBlock(batch, run)) return { run, verb: "Lift, rinse, wipe", kind: "lift", due: "soon" };
  const slot = isInPad ? at(run, toCome, nowMs) : nextSlot(batch, run, nowMs);
  const isIn = slots.some((each) => each < slot.slot_s && run.readings[each]?.state !== "missed");
  const action = reading(slot);
  return isIn && slot.inS > 0 ? { ...action, verb: "Leave it in", kind: "leave" } : action;
}

/* What a reading needs until it is kept. */
function afterReading(run, nowMs, typed) {
  const action = { run, slot_s: typed.slotS, due: "soon" };
  if (elapsedS(run, nowMs) < typed.elapsedS + RINSE_S)
    return { ...action, verb: "Lift, rinse, wipe", kind: "lift" };
  if (typed.isComplete) return { ...action, verb: "Keep it", kind: "keep" };
  return { ...action, verb: "Temperature", kind: "temperature" };
}

const reading = (slot) => ({ ...slot, ...words(slot), due: dueOf(slot.inS) });

function words({ inS }) {
  if (inS > LOWER_BEFORE_S) return { verb: "Next reading", kind: "wait" };
  return inS > 0 ? { verb: "Lower the hydrometer", kind: "lower" } : { verb: "Read now", kind: "read" };
}

/* Everything this person has to do, in order of time: readings and what the timetable gives. Without a time and last:
   a start that it gives nobody. */
export function dueList(room, nowMs, person = null) {
  const readings = room.runs
    .filter((run) => run.of.may_read && run.started_at && !isElsewhere(run, nowMs, person))
    .flatMap((run) =>
      openSlots(run.of, run)
        .filter((slot) => !isPassed(run.of, run, slot))
        .map((slot) => ({ ...at(run, slot, nowMs), kind: "read" })),
    );
  return [...readings, ...plannedFor(room, nowMs, person)].sort((a, b) => a.inS - b.inS);
}

/* The two actions after this one, without what is late already; a start that the timetable gives nobody where hands
   are free for it. */
export function actionsAfter(room, nowMs, action, person = null, typed = null) {
  if (!action) return [];
  const toCome = dueList(room, nowMs, person)
    .filter((each) => each.inS > 0 && !isTyped(each, typed))
    .filter((each) => !isSame(each, action));
  const startable = action.kind !== "start" && !room.plan.length && firstUnplanned(room);
  if (!startable) return toCome.slice(0, 2);
  const busyToS = action.inS ?? 0;
  const gap = toCome.findIndex(({ inS }, i) => inS - (toCome[i - 1]?.inS ?? busyToS) > KEEP_HANDS_FREE_S);
  toCome.splice(gap < 0 ? toCome.length : gap, 0, { run: startable, kind: "start" });
  return toCome.slice(0, 2);
}

/* The same cylinder's reading of the same slot, or the same start. */
function isSame({ run, slot_s, inS }, action) {
  return run === action.run && slot_s === action.slot_s && (slot_s !== undefined || inS === action.inS);
}

/* Every reading that is late and not the one to take now, in order of time. `canRead` is false once a later slot of
   its cylinder was read. */
export function lateSlots(room, nowMs, action, person = null) {
  return room.runs
    .filter((run) => run.of.may_read && run.started_at && !isElsewhere(run, nowMs, person))
    .flatMap((run) =>
      openSlots(run.of, run).map((slot) => ({
        ...at(run, slot, nowMs),
        canRead: !isPassed(run.of, run, slot),
      })),
    )
    .filter(({ run, slot_s, inS }) => inS <= 0 && !(run === action?.run && slot_s === action.slot_s))
    .sort((a, b) => a.inS - b.inS);
}

const SECOND_LOOK_SHARE = 0.05;
const SECOND_LOOK_LEAST_S = 60;

/* The slot near this moment that a second person is asked to read too, whoever has read it first. */
export function secondSlot(run, nowMs) {
  if (!run.started_at || run.void) return null;
  const elapsed = elapsedS(run, nowMs);
  const near = (slot) => Math.abs(elapsed - slot) <= Math.max(SECOND_LOOK_LEAST_S, slot * SECOND_LOOK_SHARE);
  return run.second_slots?.find(near) ?? null;
}

export function slotName(slotS) {
  if (slotS >= 3600 && slotS % 3600 === 0) return `${slotS / 3600} h`;
  return slotS > 60 && slotS % 60 === 0 ? `${slotS / 60} min` : `${slotS} s`;
}

/* 0:05, 12:30 or 23:59:59; late times carry a plus. */
export function countDown(seconds) {
  const whole = Math.floor(Math.abs(seconds));
  const two = (number) => String(number).padStart(2, "0");
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor(whole / 60) % 60;
  const text = hours ? `${hours}:${two(minutes)}:${two(whole % 60)}` : `${minutes}:${two(whole % 60)}`;
  return seconds < -1 ? `+${text}` : text;
}
