// Which cylinder needs a hand next, and how its time is said.

import assert from "node:assert/strict";
import { describe, test } from "node:test";
import {
  countDown,
  dueOf,
  elapsedS,
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

function batchOf(runs, facts = {}) {
  return { schedule_s: [30, 60, 7200], may_read: true, may_start: true, runs, ...facts };
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
    const later = started(1, [], { started_at: "2026-03-02T08:00:05Z" });
    const latest = started(2);
    assert.equal(nextAction(batchOf([later, latest]), after(36)).run, latest);
    assert.equal(nextAction(batchOf([latest, later]), after(36)).run, latest);
  });

  test("is a reading that is due rather than a start", () => {
    assert.equal(nextAction(batchOf([unstarted(1), started(2)]), after(20)).kind, "lower");
  });

  test("is a start while no reading is near: more than 75 s away", () => {
    const waiting = unstarted(1);
    const reading = started(2, [30, 60]);
    const start = { run: waiting, verb: "Start", kind: "start", due: "now" };
    assert.deepEqual(nextAction(batchOf([waiting, reading]), after(7200 - 75.5)), start);
    const tooNear = nextAction(batchOf([waiting, reading]), after(7200 - 75));
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
    const action = nextAction(batchOf([started(1, [30])]), after(35));
    assert.deepEqual([action.slot_s, action.inS, action.kind, action.due], [60, 25, "wait", "soon"]);
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
