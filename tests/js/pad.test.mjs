// The value being typed: what a draft of a slot and one of the blank between the slots send.

import assert from "node:assert/strict";
import { describe, test } from "node:test";
import { BlankDraft, Draft } from "../../batches/static/batches/bench/pad.js";

const ZERO = "2026-03-02T08:00:00.000Z";
const NOW_MS = Date.parse(ZERO) + 5_400_000;
const run = { pk: 7, started_at: ZERO, readings: {} };
const clock = { nowMs: () => NOW_MS, doubt: "", id: "a" };

function typed(draft, from = clock) {
  for (const key of "4.5") draft.press(key, from);
  draft.field = "temperature_c";
  for (const key of "21.5") draft.press(key, from);
  return draft;
}

describe("a draft of a slot", () => {
  test("sends its slot and the time since the start", () => {
    const draft = typed(new Draft(run, 5400));
    assert.deepEqual([draft.kind, draft.name], ["reading", "90 min"]);
    const { slot_s, elapsed_s, reading } = draft.content();
    assert.deepEqual([slot_s, elapsed_s, reading], ["5400", "5400.0", "4.5"]);
  });
});

describe("steps from the last value", () => {
  const stepped = (direction, last, before = (draft) => draft) => {
    const draft = before(new Draft(run, 5400));
    draft.step(direction, 0.5, last, clock);
    return draft;
  };

  test("begin at the last value, none takes it as it is, and each takes the moment", () => {
    for (const [direction, value] of [
      [-2, "19.5"],
      [-1, "20.0"],
      [0, "20.5"],
      [1, "21.0"],
    ]) {
      const draft = stepped(direction, "20.5");
      assert.deepEqual([draft.values.reading, draft.takenMs], [value, NOW_MS]);
    }
  });

  test("go on from what is typed; none goes back to the last value", () => {
    const typed12 = (draft) => {
      for (const key of "12") draft.press(key, clock);
      return draft;
    };
    assert.equal(stepped(-1, "20.5", typed12).values.reading, "11.5");
    assert.equal(stepped(0, "20.5", typed12).values.reading, "20.5");
  });

  test("without a last value do nothing and take no moment", () => {
    const draft = stepped(-1, undefined);
    assert.deepEqual([draft.values.reading, draft.takenMs, draft.isTouched], ["", null, false]);
  });
});

describe("the temperature carried by one key", () => {
  test("is sent like one that was typed, and takes no moment", () => {
    const draft = new Draft(run, 5400);
    draft.carry("20.1");
    assert.deepEqual([draft.takenMs, draft.isComplete, draft.field], [null, false, "reading"]);
    draft.step(-1, 0.5, "20.5", clock);
    assert.ok(draft.isComplete);
    assert.deepEqual([draft.content().reading, draft.content().temperature_c], ["20.0", "20.1"]);
  });
});

describe("a draft that corrects a reading given as missed", () => {
  test("says why, also when it comes back refused", () => {
    const draft = typed(new Draft(run, 5400, "Given as missed by mistake."));
    assert.equal(draft.content().reason, "Given as missed by mistake.");
    const again = Draft.from({ n: 3, content: draft.content() }, run);
    assert.equal(again.content().reason, "Given as missed by mistake.");
    assert.equal(typed(new Draft(run, 5400)).content().reason, "");
  });
});

describe("one more reading of the blank", () => {
  test("sends the moment it was taken and no slot", () => {
    const draft = typed(new BlankDraft(run));
    assert.ok(draft.isComplete);
    assert.deepEqual([draft.kind, draft.name], ["blank reading", "one more"]);
    assert.deepEqual(draft.content(), {
      run: "7",
      reading: "4.5",
      temperature_c: "21.5",
      taken_at: new Date(NOW_MS).toISOString(),
      source: "tablet",
      note: "",
      takes_back: "",
    });
  });

  test("is never above the scale", () => {
    const draft = typed(new BlankDraft(run));
    draft.goAbove(clock);
    assert.equal(draft.values.reading, "4.5");
  });

  test("says so when its time was doubtful", () => {
    const draft = typed(new BlankDraft(run), { ...clock, doubt: "slept" });
    draft.settle("a", 60_000, 2_000);
    assert.equal(draft.content().note, "Time doubtful: slept.");
    assert.equal(draft.content().taken_at, new Date(NOW_MS - 60_000).toISOString());
  });
});
