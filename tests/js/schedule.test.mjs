// Which cylinder needs a hand next, and how its time is said.

import assert from "node:assert/strict";
import { describe, test } from "node:test";
import {
  actionsAfter,
  countDown,
  dueOf,
  elapsedS,
  heldRun,
  isOpening,
  lateSlots,
  nextAction,
  nextSlot,
  openSlots,
  secondSlot,
  slotName,
} from "../../batches/static/batches/bench/schedule.js";

const ZERO_MS = Date.parse("2026-03-02T08:00:00Z");

/* A cylinder started at eight o'clock, with readings kept at these slots. */
function started(pk, read = [], facts = {}) {
  const readings = Object.fromEntries(read.map((slot) => [slot, { reading: "20" }]));
  return { pk, started_at: "2026-03-02T08:00:00Z", void: null, readings, ...facts };
}

function unstarted(pk, facts = {}) {
  return started(pk, [], { started_at: null, ...facts });
}

/* A batch that is alone in its room. */
function batchOf(runs, facts = {}) {
  const batch = { schedule_s: [30, 60, 7200], may_read: true, may_start: true, runs, plan: [], ...facts };
  batch.batches = [batch];
  for (const run of runs) run.of = batch;
  return batch;
}

const after = (seconds) => ZERO_MS + seconds * 1000;

describe("open slots", () => {
  test("are the slots without a reading, in their order", () => {
    assert.deepEqual(openSlots(batchOf([]), started(1, [60])), [30, 7200]);
  });

  test("a slot that was missed is open no more", () => {
    const run = started(1, [], { readings: { 30: { state: "missed" } } });
    assert.deepEqual(openSlots(batchOf([]), run), [60, 7200]);
  });

  test("a void cylinder has none", () => {
    assert.deepEqual(openSlots(batchOf([]), started(1, [], { void: "spill" })), []);
  });
});

describe("the next slot of a cylinder", () => {
  test("is its first open one, with the seconds until it is due", () => {
    const run = started(1, [30]);
    assert.deepEqual(nextSlot(batchOf([run]), run, after(45.5)), { run, slot_s: 60, inS: 14.5 });
  });

  test("is late by a negative number", () => {
    const run = started(1);
    assert.equal(nextSlot(batchOf([run]), run, after(42)).inS, -12);
  });

  test("is nothing before the start, after the last reading, and in a void cylinder", () => {
    for (const run of [unstarted(1), started(2, [30, 60, 7200]), started(3, [], { void: "spill" })]) {
      assert.equal(nextSlot(batchOf([run]), run, after(10)), null);
    }
  });

  test("is the newest that is due, from ten seconds before it", () => {
    const run = started(1);
    assert.equal(nextSlot(batchOf([run]), run, after(49.9)).slot_s, 30);
    assert.equal(nextSlot(batchOf([run]), run, after(50)).slot_s, 60);
    assert.equal(nextSlot(batchOf([run]), run, after(7000)).slot_s, 60);
  });

  test("is none that a later reading has passed, while another is open", () => {
    const run = started(1, [60]);
    assert.equal(nextSlot(batchOf([run]), run, after(70)).slot_s, 7200);
    const rest = started(1, [60, 7200]);
    assert.equal(nextSlot(batchOf([rest]), rest, after(7300)).slot_s, 30);
    const missed = started(1, [], { readings: { 60: { state: "missed" } } });
    assert.equal(nextSlot(batchOf([missed]), missed, after(70)).slot_s, 30);
  });

  test("counts elapsed time to the millisecond, and backwards before the start", () => {
    assert.equal(elapsedS(started(1), ZERO_MS + 1), 0.001);
    assert.equal(elapsedS(started(1), after(-5)), -5);
  });
});

describe("the slot a second person is asked to read", () => {
  const asked = started(1, [], { second_slots: [600, 86400] });

  test("is the asked one near this moment: a minute either way, or a twentieth of its time", () => {
    for (const [elapsed, slot] of [
      [539.9, null],
      [540, 600],
      [660, 600],
      [660.1, null],
      [82080, 86400],
      [82079, null],
    ]) {
      assert.equal(secondSlot(asked, after(elapsed)), slot);
    }
  });

  test("is open also when the first person has read it already", () => {
    const read = started(1, [600], { second_slots: [600] });
    assert.equal(secondSlot(read, after(605)), 600);
  });

  test("is none before the start, in a void cylinder, and where nothing is asked", () => {
    for (const facts of [{ started_at: null }, { void: "spill" }, { second_slots: [] }]) {
      assert.equal(secondSlot({ ...asked, ...facts }, after(600)), null);
    }
    assert.equal(secondSlot(started(1), after(600)), null, "a page kept from before it was asked for");
  });
});

describe("how near a reading is", () => {
  for (const [inS, said] of [
    [10.001, "soon"],
    [10, "now"],
    [0, "now"],
    [-2.999, "now"],
    [-3, "late"],
    [-3600, "late"],
  ]) {
    test(`${inS} s before it is due is ${said}`, () => assert.equal(dueOf(inS), said));
  }
});

describe("the next action", () => {
  test("is to lower the hydrometer ten seconds before a reading", () => {
    const run = started(1);
    const action = nextAction(batchOf([run]), after(20));
    assert.deepEqual(action, {
      run,
      slot_s: 30,
      inS: 10,
      verb: "Lower the hydrometer",
      kind: "lower",
      due: "now",
    });
  });

  test("is to lower it until the last moment, and to read at the very second", () => {
    assert.equal(nextAction(batchOf([started(1)]), after(29.5)).kind, "lower");
    const action = nextAction(batchOf([started(1)]), after(30));
    assert.deepEqual([action.verb, action.kind, action.due, action.inS], ["Read now", "read", "now", 0]);
  });

  test("says that a reading is late", () => {
    const action = nextAction(batchOf([started(1)]), after(33));
    assert.deepEqual([action.kind, action.due], ["read", "late"]);
  });

  test("takes the cylinder that is latest first, whatever the order of the batch", () => {
    const later = started(1, [30, 60], { started_at: "2026-03-02T08:00:05Z" });
    const latest = started(2, [30, 60]);
    assert.equal(nextAction(batchOf([later, latest]), after(7206)).run, latest);
    assert.equal(nextAction(batchOf([latest, later]), after(7206)).run, latest);
  });

  test("is a reading that is due rather than a start", () => {
    assert.equal(nextAction(batchOf([unstarted(1), started(2)]), after(20)).kind, "lower");
  });

  test("is what the reading in the pad needs, before a start and after what is due", () => {
    const run = started(1, [30, 60]);
    const typed = { pk: 1, slotS: 7200, elapsedS: 7201, isComplete: false };
    const batch = batchOf([run, unstarted(2)]);
    assert.equal(nextAction(batch, after(7202), null, typed).verb, "Lift, rinse, wipe");
    assert.equal(nextAction(batch, after(7216), null, typed).verb, "Temperature");
    const due = started(3, [30, 60], { started_at: "2026-03-02T08:00:15Z" });
    assert.equal(nextAction(batchOf([run, due]), after(7206), null, typed).run, due);
  });

  test("is a start while no reading is near: more than 150 s away", () => {
    const waiting = unstarted(1);
    const reading = started(2, [30, 60]);
    const start = { run: waiting, verb: "Start", kind: "start", due: "now" };
    assert.deepEqual(nextAction(batchOf([waiting, reading]), after(7200 - 150.5)), start);
    const tooNear = nextAction(batchOf([waiting, reading]), after(7200 - 150));
    assert.deepEqual(
      [tooNear.run, tooNear.verb, tooNear.kind, tooNear.due],
      [reading, "Next reading", "wait", "soon"],
    );
  });

  test("is the first start of a batch in which nothing runs", () => {
    const runs = [unstarted(1, { void: "spill" }), unstarted(2), unstarted(3)];
    assert.equal(nextAction(batchOf(runs), after(0)).run.pk, 2);
  });

  test("is the next reading, soon, when nothing is left to start", () => {
    const action = nextAction(batchOf([started(1)]), after(5));
    assert.deepEqual([action.slot_s, action.inS, action.kind, action.due], [30, 25, "wait", "soon"]);
  });

  test("is no start for whoever may not start, and no reading where nothing may be done", () => {
    assert.equal(nextAction(batchOf([unstarted(1)], { may_start: false }), after(0)), null);
    const closed = { may_read: false, may_start: false };
    assert.equal(nextAction(batchOf([started(1)], closed), after(30)), null);
  });

  test("is a reading where only one of both is allowed", () => {
    assert.equal(nextAction(batchOf([started(1)], { may_start: false }), after(30)).kind, "read");
    assert.equal(nextAction(batchOf([started(1)], { may_read: false }), after(30)).kind, "read");
  });

  test("is nothing when all is read", () => {
    assert.equal(nextAction(batchOf([started(1, [30, 60, 7200])]), after(9000)), null);
  });
});

describe("the opening block", () => {
  const elevenMinutesAgo = { started_at: "2026-03-02T07:49:00Z" };
  const mine = (pk, read, facts) => started(pk, read, { started_by: "Tomas", ...facts });

  test("lasts from START to its last reading, and 105 s at most", () => {
    const batch = batchOf([]);
    for (const [run, elapsed, said] of [
      [started(1), 0, true],
      [started(1, [30]), 59, true],
      [started(1, [30, 60]), 61, false],
      [started(1, [60]), 61, false],
      [started(1, [30]), 105, true],
      [started(1, [30]), 105.1, false],
      [started(1, [], { void: "spill" }), 10, false],
      [unstarted(1), 10, false],
    ])
      assert.equal(isOpening(batch, run, after(elapsed)), said);
    assert.equal(isOpening(batchOf([], { schedule_s: [7200] }), started(1), after(1)), false);
  });

  for (const [elapsed, verb] of [
    [0, "Next reading"],
    [21, "Lower the hydrometer"],
    [31, "Read now"],
    [45, "Leave it in"],
    [50, "Leave it in"],
    [61, "Read now"],
  ])
    test(`keeps the next action at ${elapsed} s, however late another cylinder is`, () => {
      const late = mine(1, [], elevenMinutesAgo);
      const opening = mine(2, elapsed > 40 ? [30] : []);
      const action = nextAction(batchOf([late, opening]), after(elapsed), "Tomas");
      assert.deepEqual([action.run.pk, action.verb], [2, verb]);
    });

  test("offers no start while it lasts", () => {
    const batch = batchOf([mine(1), unstarted(2)], { schedule_s: [60, 7200] });
    assert.equal(nextAction(batch, after(0), "Tomas").kind, "wait");
  });

  test("says to leave the hydrometer in between its readings, unless it never was", () => {
    const said = (run, elapsed, typed) => {
      const { verb, kind, slot_s, inS } = nextAction(batchOf([run]), after(elapsed), "Tomas", typed);
      return [verb, kind, slot_s, inS];
    };
    assert.deepEqual(said(mine(1, [30]), 35), ["Leave it in", "leave", 60, 25]);
    assert.deepEqual(said(mine(1), 52), ["Leave it in", "leave", 60, 8], "also when 30 s is still open");
    const typed = { pk: 1, slotS: 30, elapsedS: 30.2, isComplete: false };
    assert.deepEqual(said(mine(1), 32, typed), ["Leave it in", "leave", 60, 28], "also while 30 s is typed");
    assert.deepEqual(said(mine(1), 62, typed), ["Read now", "read", 60, -2]);
    const missed = mine(1, [], { readings: { 30: { state: "missed" } } });
    assert.deepEqual(said(missed, 52), ["Lower the hydrometer", "lower", 60, 8]);
  });

  test("ends with lift, rinse, wipe, then the temperature, then keeping it", () => {
    const at60 = (isComplete) => ({ pk: 1, slotS: 60, elapsedS: 60.5, isComplete });
    for (const [elapsed, isComplete, verb] of [
      [61, false, "Lift, rinse, wipe"],
      [75.4, true, "Lift, rinse, wipe"],
      [75.5, false, "Temperature"],
      [90, false, "Temperature"],
      [90, true, "Keep it"],
    ]) {
      const action = nextAction(batchOf([mine(1, [30])]), after(elapsed), "Tomas", at60(isComplete));
      assert.deepEqual([action.verb, action.due, "inS" in action], [verb, "soon", false]);
    }
  });

  test("goes on while the hydrometer is rinsed, and offers no start before", () => {
    const readings = { 30: { state: "read" }, 60: { state: "read", elapsed_s: "60.5" } };
    const batch = batchOf([mine(1, [], { readings }), unstarted(2)]);
    assert.deepEqual(
      [66, 75.4, 75.5].map((elapsed) => nextAction(batch, after(elapsed), "Tomas").verb),
      ["Lift, rinse, wipe", "Lift, rinse, wipe", "Start"],
    );
  });

  test("gives way once it is over, also when its last reading was forgotten", () => {
    const late = mine(1, [30, 60], { started_at: "2026-03-02T05:49:00Z" });
    const read = nextAction(batchOf([late, mine(2, [30, 60])]), after(62), "Tomas");
    assert.equal(read.run.pk, 1);
    const forgotten = nextAction(batchOf([late, mine(2, [30])]), after(106), "Tomas");
    assert.equal(forgotten.run.pk, 1);
  });

  test("is that of the cylinder started last, in whatever order they stand", () => {
    const first = mine(1);
    const second = mine(2, [], { started_at: "2026-03-02T08:00:20Z" });
    assert.equal(heldRun(batchOf([first, second]), after(30), "Tomas"), second);
    assert.equal(heldRun(batchOf([second, first]), after(30), "Tomas"), second);
  });

  test("of somebody else holds nothing here and asks for nothing here", () => {
    const theirs = started(1, [], { started_by: "Tarik" });
    const own = mine(2, [30, 60], { started_at: "2026-03-02T06:00:35Z" });
    assert.equal(heldRun(batchOf([theirs]), after(25), "Tomas"), null);
    assert.equal(nextAction(batchOf([theirs]), after(25), "Tomas"), null);
    assert.equal(nextAction(batchOf([theirs, own]), after(32), "Tomas").run, own);
    assert.equal(nextAction(batchOf([theirs]), after(106), "Tomas").run, theirs);
    assert.deepEqual(lateSlots(batchOf([theirs]), after(40), null, "Tomas"), []);
  });

  test("of a cylinder started here a moment ago is one's own", () => {
    const run = started(1, [], { started_by: null });
    assert.equal(heldRun(batchOf([run]), after(1), "Tomas"), run);
  });
});

describe("the two actions after the next", () => {
  const named = (actions) => actions.map(({ run, slot_s, kind }) => [run.pk, slot_s ?? kind]);
  const after_ = (batch, elapsed, typed) => {
    const action = nextAction(batch, after(elapsed), null, typed);
    return named(actionsAfter(batch, after(elapsed), action, null, typed));
  };

  test("are the readings to come, in order of time", () => {
    const other = started(2, [30, 60], { started_at: "2026-03-02T06:00:50Z" });
    assert.deepEqual(after_(batchOf([started(1), other]), 5), [
      [2, 7200],
      [1, 60],
    ]);
  });

  test("are without the reading in the pad", () => {
    const typed = { pk: 1, slotS: 30, elapsedS: 28, isComplete: false };
    assert.deepEqual(after_(batchOf([started(1)]), 29, typed), [[1, 7200]]);
  });

  test("have a start where 150 s are free for it, and before anything that is later", () => {
    const other = started(3, [30, 60], { started_at: "2026-03-02T06:02:00Z" });
    assert.deepEqual(after_(batchOf([started(1), unstarted(2)]), 5), [
      [1, 60],
      [2, "start"],
    ]);
    assert.deepEqual(after_(batchOf([started(1, [30]), unstarted(2), other]), 35), [
      [3, 7200],
      [2, "start"],
    ]);
  });

  test("after a start are readings, and there are none after nothing", () => {
    const batch = batchOf([unstarted(1), unstarted(2), started(3, [30, 60])]);
    assert.deepEqual(after_(batch, 100), [[3, 7200]]);
    assert.deepEqual(actionsAfter(batchOf([]), after(0), null), []);
  });
});

describe("what is late and waits", () => {
  const pairs = (slots) => slots.map(({ run, slot_s }) => [run.pk, slot_s]);

  test("stands in order of time, without the reading to take now and what is to come", () => {
    const older = started(1, [30], { started_at: "2026-03-02T07:59:00Z" });
    const newer = started(2);
    const batch = batchOf([newer, older, unstarted(3), started(4, [], { void: "spill" })]);
    assert.deepEqual(pairs(lateSlots(batch, after(31), null)), [
      [1, 60],
      [2, 30],
    ]);
    assert.deepEqual(pairs(lateSlots(batch, after(31), nextAction(batch, after(31)))), [[1, 60]]);
  });

  test("has every open slot of one cylinder; one that a later reading has passed cannot be read", () => {
    const run = started(1, [60]);
    const found = lateSlots(batchOf([run]), after(7300), null);
    assert.deepEqual(
      found.map(({ slot_s, canRead }) => [slot_s, canRead]),
      [
        [30, false],
        [7200, true],
      ],
    );
  });

  test("a reading that was passed is no action", () => {
    const run = started(1, [60, 7200]);
    assert.equal(nextAction(batchOf([run]), after(7300)), null);
  });

  test("is nothing where nothing may be read", () => {
    assert.deepEqual(lateSlots(batchOf([started(1)], { may_read: false }), after(100), null), []);
  });
});

describe("names of slots", () => {
  for (const [slotS, name] of [
    [30, "30 s"],
    [60, "60 s"],
    [90, "90 s"],
    [120, "2 min"],
    [3600, "1 h"],
    [5400, "90 min"],
    [7200, "2 h"],
    [7260, "121 min"],
    [7201, "7201 s"],
    [86_400, "24 h"],
  ]) {
    test(`${slotS} s is ${name}`, () => assert.equal(slotName(slotS), name));
  }
});

describe("counting down", () => {
  for (const [seconds, text] of [
    [0, "0:00"],
    [5, "0:05"],
    [59.9, "0:59"],
    [60, "1:00"],
    [750, "12:30"],
    [3599, "59:59"],
    [3600, "1:00:00"],
    [86_399, "23:59:59"],
    [-1, "0:01"],
    [-1.01, "+0:01"],
    [-65, "+1:05"],
    [-3661, "+1:01:01"],
  ]) {
    test(`${seconds} s is ${text}`, () => assert.equal(countDown(seconds), text));
  }
});
