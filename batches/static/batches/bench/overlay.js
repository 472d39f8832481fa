// The laboratory's state with what is still on this tablet laid over it. Pure: takes and gives plain values.

const SAME_ZERO_MS = 2000;

export function withEntries(batch, entries) {
  const runs = batch.runs.map((run) => ({
    ...run,
    readings: { ...run.readings },
    seen: [...run.seen],
    second_slots: [...(run.second_slots ?? [])],
    blank_readings: [...(run.blank_readings ?? [])],
  }));
  const byPk = new Map(runs.map((run) => [String(run.pk), run]));
  for (const entry of entries) {
    const run = byPk.get(entry.content.run);
    if (run && entry.state !== "refused") LAY[entry.kind]?.(run, entry);
  }
  // The first start lets the batch run, also while the laboratory has not heard of it.
  const runsNow = batch.may_start && runs.some((run) => run.started_at);
  return runsNow ? { ...batch, runs, state: "running", may_read: true } : { ...batch, runs };
}

const LAY = {
  start(run, { content, by_name }) {
    run.started_by ??= by_name ?? null;
    run.started_at ??= content.started_at;
  },
  replunge(run, { content, by_name }) {
    if (Date.parse(run.started_at) >= Date.parse(content.started_at) - 1) return; // the laboratory knows it already
    Object.assign(run, {
      started_at: content.started_at,
      started_by: by_name ?? null,
      readings: {},
      stirred_again: run.stirred_again + 1,
    });
  },
  reading(run, { content }) {
    const apart = Math.abs(Date.parse(content.counted_from ?? run.started_at) - Date.parse(run.started_at));
    if (apart > SAME_ZERO_MS) return;
    const stands = run.readings[content.slot_s];
    // Missed by mistake: what was read after all stands in its place, before the laboratory says so.
    const corrects = stands?.state === "missed" && content.state !== "missed" && content.reason;
    if (!stands || corrects) run.readings[content.slot_s] = { ...content, on_tablet: true };
  },
  "second reading"(run, { content }) {
    run.second_slots = run.second_slots.filter((slot) => String(slot) !== content.slot_s);
  },
  observation(run, { entry_id, content, by_name }) {
    if (content.takes_back) run.seen = run.seen.filter((seen) => seen.entry_id !== content.takes_back);
    else if (!run.seen.some((seen) => seen.entry_id === entry_id)) {
      run.seen.push({ entry_id, what: content.what, slot_s: Number(content.slot_s) || null, by: by_name });
    }
  },
  "blank reading"(run, { entry_id, content, by_name }) {
    if (content.takes_back)
      run.blank_readings = run.blank_readings.filter((each) => each.entry_id !== content.takes_back);
    else if (!run.blank_readings.some((each) => each.entry_id === entry_id))
      run.blank_readings.push({ entry_id, ...content, by: by_name });
  },
  void(run, { content }) {
    run.void ??= content.why;
  },
};
