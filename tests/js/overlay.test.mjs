// The laboratory's state with what still lies on this tablet laid over it.

import assert from "node:assert/strict";
import { describe, test } from "node:test";
import { withEntries } from "../../batches/static/batches/bench/overlay.js";

const ZERO = "2026-03-02T08:00:00.000Z";
const later = (ms) => new Date(Date.parse(ZERO) + ms).toISOString();

function batchOf(run = {}, facts = {}) {
  const base = {
    pk: 7,
    started_at: ZERO,
    readings: {},
    seen: [],
    blank_readings: [],
    void: null,
    stirred_again: 0,
    second_slots: [600, 5400],
  };
  return { state: "running", may_start: false, may_read: true, runs: [{ ...base, ...run }], ...facts };
}

function entryOf(kind, content, facts = {}) {
  return {
    entry_id: "e1",
    kind,
    state: "waiting",
    by_name: "Tomas",
    content: { run: "7", ...content },
    ...facts,
  };
}

const laid = (batch, ...entries) => withEntries(batch, entries).runs[0];

describe("any entry", () => {
  test("leaves the laboratory's state as it was", () => {
    const batch = batchOf({ started_at: null }, { may_start: true, state: "filled", may_read: false });
    const before = structuredClone(batch);
    withEntries(batch, [
      entryOf("start", { started_at: ZERO }),
      entryOf("reading", { slot_s: "30", reading: "20", counted_from: ZERO }),
      entryOf("observation", { what: "foam", slot_s: "" }),
      entryOf("void", { why: "spill" }),
    ]);
    assert.deepEqual(batch, before);
  });

  test("counts while it waits and once it is stored, never when it was refused", () => {
    const reading = (state) =>
      entryOf("reading", { slot_s: "30", reading: "20", counted_from: ZERO }, { state });
    assert.ok(laid(batchOf(), reading("waiting")).readings[30]);
    assert.ok(laid(batchOf(), reading("stored")).readings[30]);
    assert.deepEqual(laid(batchOf(), reading("refused")).readings, {});
  });

  test("of a cylinder that is not in this batch, or of an unknown kind, changes nothing", () => {
    const stranger = entryOf("void", { run: "8", why: "spill" });
    assert.deepEqual(withEntries(batchOf(), [stranger, entryOf("greeting", {})]), batchOf());
  });
});

describe("a start", () => {
  test("lets cylinder and batch run before the laboratory has heard of it", () => {
    const batch = batchOf({ started_at: null }, { may_start: true, state: "filled", may_read: false });
    const now = withEntries(batch, [entryOf("start", { started_at: ZERO })]);
    assert.deepEqual([now.runs[0].started_at, now.state, now.may_read], [ZERO, "running", true]);
  });

  test("never moves the zero that is there", () => {
    assert.equal(laid(batchOf(), entryOf("start", { started_at: later(5000) })).started_at, ZERO);
  });

  test("opens nothing to a person who may not start, and nothing runs without one", () => {
    const closed = batchOf({}, { may_start: false, state: "in review", may_read: false });
    assert.deepEqual(withEntries(closed, []), closed);
    const soaking = batchOf({ started_at: null }, { may_start: true, state: "filled", may_read: false });
    assert.deepEqual(withEntries(soaking, []), soaking);
  });
});

describe("stirring again", () => {
  const before = { readings: { 30: { reading: "20" } }, stirred_again: 1 };
  const again = (ms) => entryOf("replunge", { started_at: later(ms) });

  test("sets a new zero and empties the readings", () => {
    const run = laid(batchOf(before), again(60_000));
    assert.deepEqual([run.started_at, run.readings, run.stirred_again], [later(60_000), {}, 2]);
    assert.equal(run.started_by, "Tomas", "the opening block is of whoever stirred");
  });

  test("is laid over once: a zero that the laboratory knows, to the millisecond, is no new one", () => {
    for (const ms of [-60_000, 0, 1]) {
      const run = laid(batchOf(before), again(ms));
      assert.deepEqual([run.started_at, run.readings, run.stirred_again], [ZERO, before.readings, 1]);
    }
    assert.equal(laid(batchOf(before), again(2)).stirred_again, 2);
  });

  test("keeps readings that are counted from the new zero only", () => {
    const zero = later(60_000);
    const run = laid(
      batchOf(),
      again(60_000),
      entryOf("reading", { slot_s: "30", reading: "20", counted_from: ZERO }),
      entryOf("reading", { slot_s: "60", reading: "18", counted_from: zero }),
    );
    assert.deepEqual(Object.keys(run.readings), ["60"]);
  });
});

describe("a reading", () => {
  const reading = (content) => entryOf("reading", { slot_s: "30", reading: "20", ...content });

  test("is shown as one that lies on the tablet", () => {
    const content = { run: "7", slot_s: "30", reading: "20", counted_from: ZERO };
    assert.deepEqual(laid(batchOf(), reading({ counted_from: ZERO })).readings, {
      30: { ...content, on_tablet: true },
    });
  });

  test("never covers what the laboratory has, and the first of two stays", () => {
    const there = { readings: { 30: { reading: "21" } } };
    assert.equal(laid(batchOf(there), reading({ counted_from: ZERO })).readings[30].reading, "21");
    const two = [reading({ counted_from: ZERO }), reading({ counted_from: ZERO, reading: "19" })];
    assert.equal(laid(batchOf(), ...two).readings[30].reading, "20");
  });

  test("covers one that was given as missed, when it says why", () => {
    const there = { readings: { 30: { state: "missed" } } };
    const after = reading({ counted_from: ZERO, state: "read", reason: "Given as missed by mistake." });
    assert.equal(laid(batchOf(there), after).readings[30].reading, "20");
    const plain = reading({ counted_from: ZERO, state: "read" });
    assert.equal(laid(batchOf(there), plain).readings[30].state, "missed");
    const anew = reading({ state: "missed", reason: "Nobody was at the bench." });
    assert.equal(laid(batchOf(there), anew).readings[30].reason, undefined);
  });

  test("belongs to a zero up to two seconds away, in both directions", () => {
    for (const ms of [-2000, 2000])
      assert.ok(laid(batchOf(), reading({ counted_from: later(ms) })).readings[30]);
    for (const ms of [-2001, 2001]) {
      assert.deepEqual(laid(batchOf(), reading({ counted_from: later(ms) })).readings, {});
    }
  });

  test("that names no zero, as a missed slot does, belongs to the one that stands", () => {
    assert.ok(laid(batchOf(), reading({ state: "missed" })).readings[30]);
  });

  test("is kept where the laboratory knows of no start", () => {
    assert.ok(laid(batchOf({ started_at: null }), reading({ counted_from: ZERO })).readings[30]);
  });
});

describe("what is seen", () => {
  const foam = entryOf("observation", { what: "foam", slot_s: "" });

  test("joins the list with who saw it, and its slot where it has one", () => {
    assert.deepEqual(laid(batchOf(), foam).seen, [
      { entry_id: "e1", what: "foam", slot_s: null, by: "Tomas" },
    ]);
    const atSlot = entryOf("observation", { what: "reading doubtful", slot_s: "120" });
    assert.equal(laid(batchOf(), atSlot).seen[0].slot_s, 120);
  });

  test("stands there once, sent or not", () => {
    const known = [{ entry_id: "e1", what: "foam", slot_s: null, by: "Tomas" }];
    assert.deepEqual(laid(batchOf({ seen: known }), foam).seen, known);
    assert.equal(laid(batchOf(), foam, foam).seen.length, 1);
    assert.equal(laid(batchOf(), foam, { ...foam, entry_id: "e2" }).seen.length, 2);
  });

  test("goes when it is taken back, and nothing else goes", () => {
    const other = { ...foam, entry_id: "e2" };
    const back = entryOf("observation", { what: "foam", takes_back: "e1" }, { entry_id: "e3" });
    const run = laid(batchOf(), foam, other, back);
    assert.deepEqual(
      run.seen.map((seen) => seen.entry_id),
      ["e2"],
    );
  });
});

describe("a void run", () => {
  test("says why", () => {
    assert.equal(laid(batchOf(), entryOf("void", { why: "spill" })).void, "spill");
  });

  test("keeps the reason that the laboratory has", () => {
    assert.equal(laid(batchOf({ void: "broken" }), entryOf("void", { why: "spill" })).void, "broken");
  });
});

describe("a second look on the tablet", () => {
  test("is asked for no more", () => {
    const entry = entryOf("second reading", { slot_s: "600", reading: "20" });
    const run = laid(batchOf(), entry);
    assert.deepEqual(run.second_slots, [5400]);
    assert.deepEqual(run.readings, {}, "no figure rests on it");
  });

  test("is asked for again once the laboratory has refused it", () => {
    const refused = { ...entryOf("second reading", { slot_s: "600" }), state: "refused" };
    assert.deepEqual(laid(batchOf(), refused).second_slots, [600, 5400]);
  });
});

describe("one more reading of the blank", () => {
  const more = (facts = {}, content = {}) =>
    entryOf("blank reading", { reading: "4.5", temperature_c: "21.0", taken_at: ZERO, ...content }, facts);

  test("is laid over the laboratory's once, and by a tablet that knew of none", () => {
    assert.equal(laid(batchOf(), more()).blank_readings.length, 1);
    assert.equal(laid(batchOf(), more(), more()).blank_readings.length, 1);
    assert.equal(laid(batchOf({ blank_readings: undefined }), more()).blank_readings[0].reading, "4.5");
    const known = batchOf({ blank_readings: [{ entry_id: "e1", reading: "4.5" }] });
    assert.equal(laid(known, more()).blank_readings.length, 1);
  });

  test("goes when it is taken back", () => {
    const back = more({ entry_id: "e2" }, { takes_back: "e1" });
    assert.deepEqual(laid(batchOf(), more(), back).blank_readings, []);
  });
});
