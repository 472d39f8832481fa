// Which cylinder needs a hand next. Pure: takes the batch and a moment, touches neither page nor clock.

export const LOWER_BEFORE_S = 10;
const KEEP_HANDS_FREE_S = 75;

/* The opening block, common practice: START and the readings to 60 s need one pair of hands. A reading forgotten in
   it holds them no longer than the comfortable pace of `batches/planning/timetable/day.py`. */
const OPENING_SLOTS_TO_S = 60;
const OPENING_LASTS_S = 105;

export function openSlots(batch, run) {
  return run.void ? [] : batch.schedule_s.filter((slot) => !run.readings[slot]);
}

export function elapsedS(run, nowMs) {
  return (nowMs - Date.parse(run.started_at)) / 1000;
}

/* A later slot was read: this one can only be given as missed. */
function isPassed(batch, run, slot) {
  return batch.schedule_s.some(
    (later) => later > slot && run.readings[later] && run.readings[later].state !== "missed",
  );
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

/* From START to the last reading of its opening block. */
export function isOpening(batch, run, nowMs) {
  return (
    Boolean(run.started_at) &&
    !run.void &&
    elapsedS(run, nowMs) <= OPENING_LASTS_S &&
    openingSlots(batch).some((slot) => !run.readings[slot] && !isPassed(batch, run, slot))
  );
}

/* Without a name it was started on this tablet a moment ago. */
const isOf = (run, person) => !run.started_by || run.started_by === person;

/* The cylinder whose opening block holds this person's hands: the one started last. */
export function heldRun(batch, nowMs, person) {
  const held = batch.runs.filter((run) => isOpening(batch, run, nowMs) && isOf(run, person));
  return held.reduce(
    (last, run) => (last && Date.parse(last.started_at) >= Date.parse(run.started_at) ? last : run),
    null,
  );
}

/* Its opening block is in other hands, on another tablet. */
const isElsewhere = (batch, run, nowMs, person) => isOpening(batch, run, nowMs) && !isOf(run, person);

/* One verb, one cylinder, one time. From START to the last reading of the opening block nothing but that cylinder.
   Otherwise readings that are due come first, the latest of them before the rest; a start is proposed only while no
   reading is near. */
export function nextAction(batch, nowMs, person = null) {
  if (!batch.may_read && !batch.may_start) return null;
  const held = heldRun(batch, nowMs, person);
  if (held) return reading(nextSlot(batch, held, nowMs));
  const slots = batch.runs
    .filter((run) => !isElsewhere(batch, run, nowMs, person))
    .map((run) => nextSlot(batch, run, nowMs))
    .filter((slot) => slot && !isPassed(batch, slot.run, slot.slot_s));
  slots.sort((a, b) => a.inS - b.inS);
  const first = slots[0];
  const unstarted = batch.may_start ? batch.runs.find((run) => !run.started_at && !run.void) : undefined;
  if (first && first.inS <= LOWER_BEFORE_S) return reading(first);
  if (unstarted && (!first || first.inS > KEEP_HANDS_FREE_S)) {
    return { run: unstarted, verb: "Start", kind: "start", due: "now" };
  }
  return first ? reading(first) : null;
}

const reading = (slot) => ({ ...slot, ...words(slot), due: dueOf(slot.inS) });

function words({ inS }) {
  if (inS > LOWER_BEFORE_S) return { verb: "Next reading", kind: "wait" };
  return inS > 0 ? { verb: "Lower the hydrometer", kind: "lower" } : { verb: "Read now", kind: "read" };
}

/* Every reading that is late and not the one to take now, in order of time. `canRead` is false once a later slot of
   its cylinder was read. */
export function lateSlots(batch, nowMs, action, person = null) {
  if (!batch.may_read) return [];
  return batch.runs
    .filter((run) => run.started_at && !isElsewhere(batch, run, nowMs, person))
    .flatMap((run) =>
      openSlots(batch, run).map((slot) => ({
        ...at(run, slot, nowMs),
        canRead: !isPassed(batch, run, slot),
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
  if (slotS >= 7200 && slotS % 3600 === 0) return `${slotS / 3600} h`;
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
