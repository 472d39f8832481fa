// What the next reading of a cylinder may be, from its readings so far. Pure. The same as
// `particles/distribution/advice/expected_reading.py`, where the reasons stand; a test holds both to 1e-6.

/* Two characters of base 36 for each share in thousandths, a soil after the other. */
export function sharesFrom(text, times) {
  const shares = [];
  for (let at = 0; at < text.length; at += 2) shares.push(Number.parseInt(text.slice(at, at + 2), 36) / 1000);
  const soils = [];
  for (let at = 0; at < shares.length; at += times) soils.push(shares.slice(at, at + times));
  return soils;
}

/* Share at a time, straight in log time between those of the schedule and held at its ends. */
function shareAt(scheduleS, elapsedS) {
  const inside = Math.min(Math.max(elapsedS, scheduleS[0]), scheduleS.at(-1));
  const k = Math.min(
    scheduleS.findLastIndex((slot) => slot <= inside),
    scheduleS.length - 2,
  );
  if (k < 0) return (soil) => soil[0];
  const part = Math.log(inside / scheduleS[k]) / Math.log(scheduleS[k + 1] / scheduleS[k]);
  return (soil) => soil[k] + part * (soil[k + 1] - soil[k]);
}

const sum = (numbers) => numbers.reduce((total, each) => total + each, 0);

/* exp(-misfit / 2) with the best soil at 1, the noise taken larger until enough soils count. */
function weightsOf(misfits, { fewest_soils, noisier, most_noisier }) {
  const best = misfits.reduce((least, each) => Math.min(least, each), Number.POSITIVE_INFINITY);
  let weights = [];
  for (let turn = 0; turn < most_noisier; turn += 1) {
    const variance = noisier ** (2 * turn);
    weights = misfits.map((each) => Math.exp((best - each) / 2 / variance));
    if (sum(weights) ** 2 / sum(weights.map((each) => each ** 2)) >= fewest_soils) break;
  }
  return weights;
}

/* Value below which a share of the weight lies, straight between the middles of the weights. */
function quantile(sorted, total, share) {
  let [below, before] = [0, null];
  for (const { value, weight } of sorted) {
    const middle = (below + weight / 2) / total;
    if (middle >= share)
      return before
        ? before.value + ((share - before.middle) / (middle - before.middle)) * (value - before.value)
        : value;
    below += weight;
    before = { value, middle };
  }
  return before.value;
}

/* Band of the next reading less its blank. `expected` is what the laboratory hands over of the soils, `before` are
   pairs of time and reading less blank; `whole` and `step` are in the unit of the stem. */
export function expectedBand(expected, scheduleS, whole, step, before, elapsedS) {
  const soils = sharesFrom(expected.shares, scheduleS.length);
  const noise = expected.noise_steps * step;
  const misfits = soils.map(() => 0);
  for (const [atS, net] of before) {
    const share = shareAt(scheduleS, atS);
    soils.forEach((soil, i) => {
      misfits[i] += ((net - whole * share(soil)) / noise) ** 2;
    });
  }
  const weights = weightsOf(misfits, expected);
  const share = shareAt(scheduleS, elapsedS);
  const sorted = soils.map((soil, i) => ({ value: whole * share(soil), weight: weights[i] }));
  sorted.sort((a, b) => a.value - b.value);
  const total = sum(weights);
  const tail = before.length ? expected.tail : 0;
  const wider = expected.wider_steps * step;
  return { low: quantile(sorted, total, tail) - wider, high: quantile(sorted, total, 1 - tail) + wider };
}
