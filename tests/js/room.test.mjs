// The bench over all batches, and what a timetable gives a person to do.

import assert from "node:assert/strict";
import { describe, test } from "node:test";
import { roomOf } from "../../batches/static/batches/bench/room.js";
import { actionsAfter, dueList, lateSlots, nextAction } from "../../batches/static/batches/bench/schedule.js";

const ZERO_MS = Date.parse("2026-03-02T08:00:00Z");
const after = (seconds) => ZERO_MS + seconds * 1000;
const clock = (seconds) => new Date(after(seconds)).toISOString();

const cylinder = (pk, facts = {}) => ({
  pk,
  cylinder: `C${pk}`,
  is_blank: false,
  started_at: null,
  void: null,
  readings: {},
  blank_readings: [],
  ...facts,
});
const started = (pk, atS, read = [], facts = {}) =>
  cylinder(pk, {
    started_at: clock(atS),
    started_by: "Tomas",
    readings: Object.fromEntries(read.map((slot) => [slot, { state: "read", elapsed_s: String(slot) }])),
    ...facts,
  });

const batch = (number, runs, facts = {}) => ({
  number,
  schedule_s: [30, 60, 7200],
  may_read: true,
  may_start: true,
  runs,
  ...facts,
});

const act = (run, kind, atS, by = "Tomas") => ({ run, kind, at: clock(atS), by });
const now = (room, seconds) => nextAction(room, after(seconds), "Tomas");
const named = (acts) => acts.map(({ run, slot_s, kind }) => [run.pk, slot_s ?? kind]);

describe("all batches in the room", () => {
  const yesterday = batch("A", [started(1, -86_400, [30, 60], {})], { schedule_s: [30, 60, 86_400] });
  const today = batch("B", [started(2, -7100, [30, 60]), cylinder(3)]);

  test("give one next action, whichever batch it is of", () => {
    const room = roomOf([today, yesterday]);
    assert.deepEqual(named([now(room, -5)]), [[1, 86_400]]);
    assert.equal(now(room, -5).run.of.number, "A");
    const read = roomOf([
      batch("A", [started(1, -86_400, [30, 60, 86_400])], { schedule_s: [30, 60, 86_400] }),
      today,
    ]);
    assert.deepEqual(named([now(read, 95)]), [[2, 7200]]);
  });

  test("give one list in order of time, late ones first", () => {
    assert.deepEqual(named(dueList(roomOf([today, yesterday]), after(30), "Tomas")), [
      [1, 86_400],
      [2, 7200],
    ]);
  });

  test("keep the rules of their own batch", () => {
    const closed = roomOf([{ ...yesterday, may_read: false, may_start: false }, today]);
    assert.equal(now(closed, 30).run.pk, 2);
    assert.deepEqual(
      lateSlots(closed, after(200), null, "Tomas").map(({ run }) => run.pk),
      [2],
    );
  });

  test("bring the soils of each schedule to the batches that have it", () => {
    const room = roomOf([yesterday, today], [], { "30,60,86400": "soils" });
    assert.deepEqual(
      room.batches.map(({ expected }) => expected),
      ["soils", undefined],
    );
  });
});

describe("with a timetable in force", () => {
  const plan = [act(2, "start", 300), act(3, "start", 600), act(4, "start", 60, "Tarik")];
  const runs = () => [cylinder(2), cylinder(3), cylinder(4), cylinder(5)];
  const room = (more = []) => roomOf([batch("A", [...runs(), ...more])], plan);

  test("a person's next start stands with its time, is stirred a minute before and started then", () => {
    const said = (seconds) => {
      const { run, verb, kind, due, inS } = now(room(), seconds);
      return [run.pk, verb, kind, due, inS];
    };
    assert.deepEqual(said(0), [2, "Next start", "wait start", "soon", 300]);
    assert.deepEqual(said(240), [2, "Stir it", "stir", "soon", 60]);
    assert.deepEqual(said(299), [2, "Stir it", "stir", "now", 1]);
    assert.deepEqual(said(301), [2, "Start", "start", "now", -1]);
    assert.deepEqual(said(330), [2, "Start", "start", "late", -30]);
  });

  test("nobody is given a start of another person, nor one that has none while an own is to come", () => {
    assert.deepEqual(named(dueList(room(), after(0), "Tomas")), [
      [2, "start"],
      [3, "start"],
    ]);
    assert.deepEqual(named(dueList(room(), after(0), "Tarik")), [[4, "start"]]);
    assert.equal(nextAction(room(), after(0), "Berta").run.pk, 5, "who has none may start what nobody has");
  });

  test("a reading that is due comes before a start, and a late start waits for room", () => {
    const soon = started(9, -6800, [30, 60]); // its 2 h reading is due at 400 s
    assert.equal(now(room([soon]), 395).run.pk, 9);
    assert.equal(now(room([soon]), 260).kind, "stir");
    assert.deepEqual(named([now(room([soon]), 370)]), [[9, 7200]], "70 s late, 30 s before a reading");
    const far = started(9, -6000, [30, 60]);
    assert.deepEqual(named([now(room([far]), 370)]), [[2, "start"]]);
  });

  test("what follows is the timetable's, and no start out of turn", () => {
    const one = room();
    assert.deepEqual(named(actionsAfter(one, after(0), now(one, 0), "Tomas")), [[3, "start"]]);
  });

  test("a start is over once the cylinder runs, also while only this tablet knows", () => {
    const half = roomOf([batch("A", [started(2, 290, [30, 60]), cylinder(3)])], plan);
    assert.deepEqual(named(dueList(half, after(400), "Tomas")), [
      [3, "start"],
      [2, 7200],
    ]);
  });

  test("a planned reading of the blank is asked for until one serves it", () => {
    const blank = (facts) => started(1, -1000, [30, 60], { is_blank: true, ...facts });
    const of = (facts) => roomOf([batch("A", [blank(facts)])], [act(1, "blank", 900)]);
    assert.deepEqual([now(of({}), 895).verb, now(of({}), 895).run.pk], ["Read the blank", 1]);
    assert.equal(now(of({}), 100).verb, "Next blank");
    const served = of({ blank_readings: [{ taken_at: clock(400) }] });
    assert.equal(now(served, 895).slot_s, 7200, "its own slot is what is left");
    const early = of({ blank_readings: [{ taken_at: clock(299) }] });
    assert.equal(now(early, 895).kind, "blank", "more than ten minutes before");
  });

  test("a blank that was never started is started", () => {
    const room = roomOf([batch("A", [cylinder(1, { is_blank: true })])], [act(1, "blank", 100)]);
    assert.deepEqual(
      [now(room, 0).verb, now(room, 60).kind, now(room, 101).kind],
      ["Next start", "stir", "start"],
    );
  });
});
