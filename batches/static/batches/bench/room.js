// All batches at the bench in one: their cylinders, and what the timetable still holds. Pure.

/* The blank serves a planned reading of it by one of up to ten minutes before, as in `batches/timetables/rows.py`. */
const BLANK_BEFORE_MS = 600_000;

/* Each cylinder knows its batch (`of`), and each batch the soils its readings are compared with. `expected` holds them
   by schedule. */
export function roomOf(batches, plan = [], expected = {}) {
  const known = batches.map((batch) => ({ ...batch, expected: expected[batch.schedule_s.join()] }));
  for (const batch of known) batch.runs = batch.runs.map((run) => ({ ...run, of: batch }));
  const runs = known.flatMap((batch) => batch.runs);
  const byPk = new Map(runs.map((run) => [run.pk, run]));
  const toCome = plan
    .map((act) => ({ ...act, run: byPk.get(act.run), atMs: Date.parse(act.at) }))
    .filter((act) => act.run && !isOver(act));
  return { batches: known, runs, plan: toCome };
}

function isOver({ run, kind, atMs }) {
  if (run.void) return true;
  if (kind === "start") return Boolean(run.started_at);
  return blankMoments(run).some((readMs) => readMs >= atMs - BLANK_BEFORE_MS);
}

function blankMoments(run) {
  const inSlots = Object.values(run.readings)
    .filter(({ state, elapsed_s }) => state !== "missed" && elapsed_s)
    .map(({ elapsed_s }) => Date.parse(run.started_at) + Number(elapsed_s) * 1000);
  return [...inSlots, ...(run.blank_readings ?? []).map(({ taken_at }) => Date.parse(taken_at))];
}

/* What the timetable gives this person to do, in order of time, with the seconds until then. */
export function plannedFor(room, nowMs, person) {
  return room.plan
    .filter(({ by, kind, run }) => by === person && (kind !== "start" || run.of.may_start))
    .map((act) => ({ ...act, inS: (act.atMs - nowMs) / 1000 }))
    .sort((a, b) => a.inS - b.inS);
}

/* The first cylinder that may be started and that the timetable gives nobody. */
export function firstUnplanned(room) {
  const planned = new Set(room.plan.filter(({ kind }) => kind === "start").map(({ run }) => run.pk));
  return room.runs.find((run) => run.of.may_start && !run.started_at && !run.void && !planned.has(run.pk));
}
