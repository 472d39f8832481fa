// What looks wrong before it is kept. It asks, and never refuses: the laboratory judges.

/* The last numbers read before in the same cylinder. */
export function earlierReadings(batch, draft) {
  return batch.schedule_s
    .filter((slot) => slot < draft.slotS && draft.run.readings[slot])
    .map((slot) => ({ slot, ...draft.run.readings[slot] }))
    .reverse();
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
