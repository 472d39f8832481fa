// Which cylinder needs a hand next. Pure: takes the batch and a moment, touches neither page nor clock.

export const LOWER_BEFORE_S = 10;
const KEEP_HANDS_FREE_S = 75;

export function openSlots(batch, run) {
  return run.void ? [] : batch.schedule_s.filter((slot) => !run.readings[slot]);
}

export function elapsedS(run, nowMs) {
  return (nowMs - Date.parse(run.started_at)) / 1000;
}

/* The first open slot of a started run, with the seconds until it is due (negative: late). */
export function nextSlot(batch, run, nowMs) {
  const slot = run.started_at ? openSlots(batch, run)[0] : undefined;
  return slot === undefined ? null : { run, slot_s: slot, inS: slot - elapsedS(run, nowMs) };
}

export function dueOf(inS) {
  if (inS > LOWER_BEFORE_S) return "soon";
  return inS > -3 ? "now" : "late";
}

/* One verb, one cylinder, one time. Readings that are due come first, the latest of them before the rest;
   a start is proposed only while no reading is near. */
export function nextAction(batch, nowMs) {
  const slots =
    batch.may_read || batch.may_start
      ? batch.runs.map((run) => nextSlot(batch, run, nowMs)).filter(Boolean)
      : [];
  slots.sort((a, b) => a.inS - b.inS);
  const first = slots[0];
  const unstarted = batch.may_start ? batch.runs.find((run) => !run.started_at && !run.void) : undefined;
  if (first && first.inS <= LOWER_BEFORE_S) return { ...first, ...words(first), due: dueOf(first.inS) };
  if (unstarted && (!first || first.inS > KEEP_HANDS_FREE_S)) {
    return { run: unstarted, verb: "Start", kind: "start", due: "now" };
  }
  return first ? { ...first, ...words(first), due: "soon" } : null;
}

function words({ inS }) {
  if (inS > LOWER_BEFORE_S) return { verb: "Next reading", kind: "wait" };
  return inS > 0 ? { verb: "Lower the hydrometer", kind: "lower" } : { verb: "Read now", kind: "read" };
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
