// What looks wrong before it is kept. It asks, and never refuses: the laboratory judges.

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

export function whatLooksWrong(batch, draft) {
  const found = [];
  const [low, high] = batch.stem;
  const last = earlierReadings(batch, draft).find((reading) => reading.reading);
  if (!draft.above) {
    const typed = Number(draft.values.reading);
    if (typed < low || typed > high)
      found.push(`${typed} ${batch.unit} is not on the stem (${low} to ${high}).`);
    const more = last ? short(typed - Number(last.reading)) : 0;
    if (more > batch.step)
      found.push(
        `${typed} is ${more} ${batch.unit} higher than before (${last.reading}): the stem, the cylinder's number, the temperature?`,
      );
  }
  const [coldest, warmest] = batch.possible_c;
  const typedC = Number(draft.values.temperature_c);
  if (typedC < coldest || typedC > warmest)
    found.push(`${typedC} °C lies outside ${coldest} to ${warmest} °C: is it in °C?`);
  return found;
}
