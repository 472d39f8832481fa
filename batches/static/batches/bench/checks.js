// What looks wrong before it is kept. It asks, and never refuses: the laboratory judges.

import { expectedBand } from "./expected.js";
import { countDown, slotName } from "./schedule.js";

/* The last numbers read before in the same cylinder. */
export function earlierReadings(batch, draft) {
  return batch.schedule_s
    .filter((slot) => slot < draft.slotS && draft.run.readings[slot])
    .map((slot) => ({ slot, ...draft.run.readings[slot] }))
    .reverse();
}

const CARRIED_FOR_S = 3600;

/* The last temperature of this cylinder while it may still hold: what one key repeats. A room may warm by 1 °C in
   an hour (common practice); after that the thermometer is read. */
export function carriedTemperature(batch, draft, nowMs) {
  const last = earlierReadings(batch, draft).find((reading) => reading.temperature_c);
  if (!last) return null;
  const ageS = (nowMs - Date.parse(draft.run.started_at)) / 1000 - Number(last.elapsed_s);
  return ageS <= CARRIED_FOR_S ? last.temperature_c : null;
}

const short = (number) => Number(number.toPrecision(8));

/* Shown only after a value is typed: a reader who sees the band reads the band. */
export function bandOf(batch, last) {
  const [low, high] = batch.stem;
  const highest = last ? Math.min(high, short(Number(last.reading) + batch.step)) : high;
  return { low, highest };
}

const isText = (value) => value !== null && value !== undefined && value !== "";
const timeOf = (run, reading) => Date.parse(run.started_at) + Number(reading.elapsed_s) * 1000;

/* All that was read so far of a cylinder, in or out of a slot, each with its moment. */
function allRead(run) {
  const inSlots = Object.entries(run.readings)
    .filter(([, reading]) => isText(reading.elapsed_s))
    .map(([slot, reading]) => ({ ...reading, slot: Number(slot), atMs: timeOf(run, reading) }));
  const extra = (run.blank_readings ?? []).map((reading) => ({
    ...reading,
    atMs: Date.parse(reading.taken_at),
  }));
  return [...inSlots, ...extra].filter((reading) => isText(reading.temperature_c));
}

/* Soil of 2.65 g/cm³ that moves a relative density by 1: 1601 g/L. */
const SOIL_G_L_PER_DENSITY = 1601;
const isDensity = (batch) => batch.step < 0.01;
const onOtherStem = (batch, typed) =>
  isDensity(batch) ? 1 + typed / SOIL_G_L_PER_DENSITY : (typed - 1) * SOIL_G_L_PER_DENSITY;

/* Without a blank its usual level serves, and the band is this much wider to either side: meniscus, dispersant and the
   zero of an instrument (common practice). */
const BLANK_UNKNOWN_STEPS = 6;

/* The value of the blank that was read nearest in time, or null. */
function blankAt(batch, atMs) {
  const values = batch.runs
    .filter((run) => run.is_blank)
    .flatMap(allRead)
    .filter((reading) => isText(reading.reading));
  const nearest = values.reduce(
    (best, each) => (best && Math.abs(best.atMs - atMs) <= Math.abs(each.atMs - atMs) ? best : each),
    null,
  );
  return nearest && Number(nearest.reading);
}

/* A blank does not settle: it moves by a room of a few degrees and by what is read off it (common practice). */
const BLANK_MOVES_STEPS = 5;

/* While nothing proves the tablet's time, the slot's own time serves. */
const elapsedOf = (draft) => (draft.doubt ? draft.slotS : draft.elapsedS);

/* The readings to expect, { low, high } in the unit of the stem, or null where nothing lets expect any. */
export function expectedReading(batch, draft) {
  const { run } = draft;
  const before = earlierReadings(batch, draft).filter((reading) => isText(reading.reading));
  if (run.is_blank) {
    const last = blankAt(batch, draft.takenMs);
    const may = BLANK_MOVES_STEPS * batch.step;
    return last === null ? null : { low: short(last - may), high: short(last + may) };
  }
  if (!run.whole || !batch.expected) return null;
  const usual = batch.expected.usual_blank_g_l;
  const unknown = isDensity(batch) ? 1 + usual / SOIL_G_L_PER_DENSITY : usual;
  const known = blankAt(batch, draft.takenMs);
  const nets = before.map((reading) => [
    Number(reading.elapsed_s),
    Number(reading.reading) - (blankAt(batch, timeOf(run, reading)) ?? unknown),
  ]);
  const found = expectedBand(batch.expected, batch.schedule_s, run.whole, batch.step, nets, elapsedOf(draft));
  const wider = known === null ? BLANK_UNKNOWN_STEPS * batch.step : 0;
  const blank = known ?? unknown;
  return { low: blank + found.low - wider, high: blank + found.high + wider };
}

const inSteps = (batch, value) => short(Math.round(value / batch.step) * batch.step);
const isIn = ({ low, high }, value) => low <= value && value <= high;

/* A number of the other scale, where it would be expected. */
function otherScale(batch, draft, typed) {
  const band = expectedReading(batch, draft);
  if (!band || isIn(band, typed) || !isIn(band, onOtherStem(batch, typed))) return null;
  const [read, stem] = isDensity(batch) ? ["g/L", "relative density"] : ["a relative density", "g/L"];
  return [`${typed} looks like ${read}, and this stem shows ${stem}: was the other scale read?`];
}

/* Off what the readings so far and the blank let expect, either way; said with the range. */
function offExpected(batch, draft, typed, last) {
  const band = expectedReading(batch, draft);
  if (!band || isIn(band, typed)) return [];
  const [from, to] = [inSteps(batch, band.low), inSteps(batch, band.high)];
  const range = `expected is ${from} to ${to} ${batch.unit}`;
  const look = "The stem, the cylinder's number, the order of the digits?";
  if (last && typed > band.high && typed === Number(last.reading))
    return [`${typed} is the same as before, and ${range}: did the hydrometer stick? ${look}`];
  if (draft.run.is_blank) return [`${typed} is far from the blank before: ${range}. ${look}`];
  if (!last)
    return [`${typed} is too ${typed > band.high ? "high" : "low"} for this portion: ${range}. ${look}`];
  const fell = typed > band.high ? "slower" : "faster";
  return [`${typed} fell ${fell} than the readings before let expect: ${range}. ${look}`];
}

/* Outside its window and nearer, in log time, to another time of the schedule. */
function offItsSlot(batch, draft) {
  const { slotS } = draft;
  const elapsedS = elapsedOf(draft);
  const at = batch.schedule_s.indexOf(slotS);
  if (at < 0 || !batch.window_s || !(elapsedS > 0) || Math.abs(elapsedS - slotS) <= batch.window_s[at])
    return [];
  const apart = (slot) => Math.abs(Math.log(elapsedS / slot));
  const nearest = batch.schedule_s.reduce((best, slot) => (apart(slot) < apart(best) ? slot : best));
  if (nearest === slotS) return [];
  return [
    `Taken ${countDown(elapsedS)} after the start; the ${slotName(slotS)} reading is far from it, the ${slotName(nearest)} reading nearer. Is it the right slot?`,
  ];
}

/* The findings of a run warn of a move by more than this too: a room moves by 1 °C in an hour, and cylinders that
   stand side by side hardly differ (common practice). */
const TEMPERATURE_JUMP_C = 2;

/* Far from the last temperature of this cylinder and from the last one in the batch: a room that moved moved both. */
function jumpedTemperature(batch, draft, typedC) {
  const newest = (readings) =>
    readings.reduce((best, each) => (best && best.atMs >= each.atMs ? best : each), null);
  const own = newest(allRead(draft.run));
  const any = newest(batch.runs.filter((run) => run.started_at).flatMap(allRead));
  const far = (reading) => Math.abs(short(typedC - Number(reading.temperature_c))) > TEMPERATURE_JUMP_C;
  if (!own || !far(own) || !far(any)) return [];
  return [
    `${typedC} °C is more than ${TEMPERATURE_JUMP_C} °C from before (${own.temperature_c} °C here): the thermometer, the digits?`,
  ];
}

export function whatLooksWrong(batch, draft) {
  const found = [];
  const [low, high] = batch.stem;
  const last = earlierReadings(batch, draft).find((reading) => reading.reading);
  if (!draft.above) {
    const typed = Number(draft.values.reading);
    const more = last ? short(typed - Number(last.reading)) : 0;
    if (more > batch.step)
      found.push(
        `${typed} is ${more} ${batch.unit} higher than before (${last.reading}): the stem, the cylinder's number, the temperature?`,
      );
    if (typed < low || typed > high)
      found.unshift(`${typed} ${batch.unit} is not on the stem (${low} to ${high}).`);
    found.push(
      ...(otherScale(batch, draft, typed) ?? (found.length ? [] : offExpected(batch, draft, typed, last))),
    );
  }
  found.push(...offItsSlot(batch, draft));
  const [coldest, warmest] = batch.possible_c;
  const typedC = Number(draft.values.temperature_c);
  if (typedC < coldest || typedC > warmest)
    found.push(`${typedC} °C lies outside ${coldest} to ${warmest} °C: is it in °C?`);
  else found.push(...jumpedTemperature(batch, draft, typedC));
  return found;
}
