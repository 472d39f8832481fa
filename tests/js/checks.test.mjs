// What is asked before a value is kept: the band of the stem, the reading before, the temperature.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { describe, test } from "node:test";
import {
  bandOf,
  carriedTemperature,
  earlierReadings,
  expectedReading,
  whatLooksWrong,
} from "../../batches/static/batches/bench/checks.js";

const BATCH = {
  schedule_s: [30, 60, 120],
  window_s: [2, 3, 2.4],
  stem: [-5, 60],
  step: 0.5,
  unit: "g/L",
  possible_c: [10, 40],
  runs: [],
};

function draftOf(reading, temperatureC, facts = {}) {
  return {
    slotS: 120,
    above: false,
    run: { readings: {} },
    values: { reading, temperature_c: temperatureC },
    ...facts,
  };
}

const readBefore = (readings) => ({ run: { readings } });

describe("earlier readings", () => {
  test("stand newest first, each with its slot", () => {
    const readings = { 30: { reading: "31" }, 60: { reading: "28" } };
    assert.deepEqual(earlierReadings(BATCH, { slotS: 120, run: { readings } }), [
      { slot: 60, reading: "28" },
      { slot: 30, reading: "31" },
    ]);
  });

  test("leave out the slot itself and those after it", () => {
    const readings = { 30: { reading: "31" }, 60: { reading: "28" }, 120: { reading: "22" } };
    assert.deepEqual(earlierReadings(BATCH, { slotS: 60, run: { readings } }), [{ slot: 30, reading: "31" }]);
  });
});

describe("the temperature that one key repeats", () => {
  const ZERO = "2026-03-02T08:00:00Z";
  const at = (elapsedS) => Date.parse(ZERO) + elapsedS * 1000;
  const draft = (readings, slotS = 120) => ({ slotS, run: { started_at: ZERO, readings } });
  const read = { temperature_c: "20.1", elapsed_s: "61.5" };

  test("is the last one of the same cylinder, for an hour", () => {
    assert.equal(carriedTemperature(BATCH, draft({ 60: read }), at(3661.5)), "20.1");
    assert.equal(carriedTemperature(BATCH, draft({ 60: read }), at(3662)), null);
  });

  test("is none before the first, and passes over a reading that was missed", () => {
    assert.equal(carriedTemperature(BATCH, draft({}), at(60)), null);
    const missed = { state: "missed", temperature_c: null, elapsed_s: null };
    assert.equal(
      carriedTemperature(BATCH, draft({ 30: { ...read, elapsed_s: "31" }, 60: missed }), at(120)),
      "20.1",
    );
    assert.equal(carriedTemperature(BATCH, draft({ 60: read }, 30), at(70)), null, "none of a later slot");
  });
});

describe("the band", () => {
  test("is the stem while nothing was read before", () => {
    assert.deepEqual(bandOf(BATCH, undefined), { low: -5, highest: 60 });
  });

  test("ends one step above the reading before", () => {
    assert.deepEqual(bandOf(BATCH, { reading: "20.5" }), { low: -5, highest: 21 });
  });

  test("never goes beyond the stem", () => {
    assert.equal(bandOf(BATCH, { reading: "59.8" }).highest, 60);
  });

  test("carries no dust of binary fractions", () => {
    assert.equal(bandOf({ ...BATCH, step: 0.2 }, { reading: "0.1" }).highest, 0.3);
  });
});

describe("nothing looks wrong", () => {
  test("on the stem and at a usual temperature, at both ends of both too", () => {
    for (const [reading, temperatureC] of [
      ["20", "20"],
      ["-5", "10"],
      ["60", "40"],
    ]) {
      assert.deepEqual(whatLooksWrong(BATCH, draftOf(reading, temperatureC)), []);
    }
  });

  test("up to one step above the reading before, and anywhere below it", () => {
    for (const reading of ["20.5", "20", "3"]) {
      assert.deepEqual(
        whatLooksWrong(BATCH, draftOf(reading, "20", readBefore({ 60: { reading: "20" } }))),
        [],
      );
    }
  });

  test("at one step that binary fractions make a hair longer", () => {
    const batch = { ...BATCH, step: 0.2 };
    assert.ok(10.3 - 10.1 > 0.2, "the case needs a difference that is not exact");
    assert.deepEqual(
      whatLooksWrong(batch, draftOf("10.3", "20", readBefore({ 60: { reading: "10.1" } }))),
      [],
    );
  });
});

describe("what looks wrong", () => {
  test("is a number that is not on the stem, on either side", () => {
    for (const reading of ["-5.5", "60.5"]) {
      const said = whatLooksWrong(BATCH, draftOf(reading, "20"));
      assert.deepEqual(said, [`${reading} g/L is not on the stem (-5 to 60).`]);
    }
  });

  test("is a reading more than a step above the one before", () => {
    const said = whatLooksWrong(BATCH, draftOf("21", "20", readBefore({ 60: { reading: "20.3" } })));
    assert.deepEqual(said, [
      "21 is 0.7 g/L higher than before (20.3): the stem, the cylinder's number, the temperature?",
    ]);
  });

  test("is held against the newest number, over a slot that was missed", () => {
    const readings = { 30: { reading: "20" }, 60: { state: "missed", reading: "" } };
    assert.equal(whatLooksWrong(BATCH, draftOf("21", "20", readBefore(readings))).length, 1);
    const fallen = { 30: { reading: "30" }, 60: { reading: "20" } };
    assert.equal(whatLooksWrong(BATCH, draftOf("25", "20", readBefore(fallen))).length, 1);
  });

  test("is a temperature outside what is possible", () => {
    for (const [typed, shown] of [
      ["9.9", "9.9"],
      ["40.1", "40.1"],
      ["68.0", "68"],
    ]) {
      const said = whatLooksWrong(BATCH, draftOf("20", typed));
      assert.deepEqual(said, [`${shown} °C lies outside 10 to 40 °C: is it in °C?`]);
    }
  });

  test("is asked all at once", () => {
    const draft = draftOf("61", "68", readBefore({ 60: { reading: "20" } }));
    const said = whatLooksWrong(BATCH, draft);
    assert.deepEqual(
      said.map((sentence) => sentence.match(/stem \(|higher|outside/)[0]),
      ["stem (", "higher", "outside"],
    );
  });

  test("above the scale only the temperature is asked", () => {
    const above = { above: true, ...readBefore({ 60: { reading: "-5" } }) };
    assert.deepEqual(whatLooksWrong(BATCH, draftOf("", "20", above)), []);
    assert.equal(whatLooksWrong(BATCH, draftOf("99", "5", above)).length, 1);
  });
});

const ZERO = "2026-03-02T08:00:00Z";
const { told, schedule_s } = JSON.parse(
  readFileSync(new URL("../../fixtures/expected_readings.json", import.meta.url), "utf-8"),
);
const read = (reading, elapsedS, temperatureC = "20.0") => ({
  reading,
  elapsed_s: String(elapsedS),
  temperature_c: temperatureC,
});

/* A blank at 4 g/L and a portion of 50 g, with what was read of it. */
function bench(readings, facts = {}, blankReadings = { 30: read("4", 30), 60: read("4", 60) }) {
  const blank = { pk: 1, is_blank: true, whole: null, started_at: ZERO, readings: blankReadings };
  const run = { pk: 2, is_blank: false, whole: 50, started_at: ZERO, readings };
  const window_s = schedule_s.map((slot) => Math.max(2, slot * 0.02));
  return {
    batch: { ...BATCH, schedule_s, window_s, expected: told, runs: [blank, run], ...facts },
    run,
    blank,
  };
}

function typed(run, slotS, reading, temperatureC = "20.0", elapsedS = slotS) {
  const takenMs = Date.parse(run.started_at) + elapsedS * 1000;
  return { run, slotS, elapsedS, takenMs, above: false, values: { reading, temperature_c: temperatureC } };
}

const SLOT = schedule_s;
const two = () => ({ [SLOT[0]]: read("40", SLOT[0]), [SLOT[1]]: read("37", SLOT[1]) });
const asked = ({ batch, run }, ...what) => whatLooksWrong(batch, typed(run, ...what));

describe("off what the readings so far let expect", () => {
  test("nothing is asked of a reading that follows them", () => {
    assert.deepEqual(asked(bench(two()), SLOT[2], "34"), []);
  });

  test("it fell faster, with the range", () => {
    const said = asked(bench(two()), SLOT[2], "12");
    assert.equal(said.length, 1);
    assert.match(
      said[0],
      /^12 fell faster than the readings before let expect: expected is \d+(\.5)? to \d+(\.5)? g\/L\./,
    );
  });

  test("a first reading above the whole portion is too high, with none before", () => {
    assert.match(asked(bench({}), SLOT[0], "59")[0], /^59 is too high for this portion: expected is /);
  });

  test("a value that stands still is stuck only where a fall is expected", () => {
    const steep = { [SLOT[0]]: read("44", SLOT[0]), [SLOT[1]]: read("34", SLOT[1]) };
    assert.match(
      asked(bench(steep), SLOT[3], "34")[0],
      /^34 is the same as before, .* did the hydrometer stick\?/,
    );
    const flat = { [SLOT[0]]: read("34", SLOT[0]), [SLOT[1]]: read("34", SLOT[1]) };
    assert.deepEqual(asked(bench(flat), SLOT[2], "34"), []);
  });

  test("a reading of the other scale", () => {
    const said = asked(bench(two()), SLOT[2], "1.0185");
    assert.deepEqual(said, [
      "1.0185 looks like a relative density, and this stem shows g/L: was the other scale read?",
    ]);
    const facts = { step: 0.0005, stem: [0.995, 1.038], unit: "relative density" };
    const dense = bench({}, facts, { 30: read("1.0025", 30) });
    dense.run.whole = 0.0311;
    assert.equal(
      asked(dense, SLOT[0], "30").at(-1),
      "30 looks like g/L, and this stem shows relative density: was the other scale read?",
    );
  });

  test("is wider without a blank, and silent before the portion is weighed", () => {
    const without = bench({}, {}, {});
    const band = (each) => expectedReading(each.batch, typed(each.run, SLOT[0], "0"));
    const [narrow, wide] = [band(bench({})), band(without)];
    assert.ok(wide.high - wide.low > narrow.high - narrow.low + 5);
    without.run.whole = null;
    assert.equal(band(without), null);
  });

  test("the blank nearest in time is the one that is taken off", () => {
    const level = (blanks) =>
      expectedReading(bench({}, {}, blanks).batch, typed(bench({}).run, SLOT[0], "0")).low;
    const near = level({ 30: read("4", 30), 3600: read("7", 3600) });
    assert.equal(level({ 30: read("5", 30) }) - near, 1);
  });

  test("a blank stays where it was", () => {
    const { batch, blank } = bench({});
    assert.deepEqual(whatLooksWrong(batch, typed(blank, SLOT[2], "4.5")), []);
    assert.match(
      whatLooksWrong(batch, typed(blank, SLOT[2], "1"))[0],
      /^1 is far from the blank before: expected is 1.5 to 6.5 g\/L/,
    );
  });
});

describe("taken at another time than its slot's", () => {
  test("outside its window and nearer to another time it is asked", () => {
    const said = asked(bench({}), 60, "30", "20.0", 16);
    assert.deepEqual(said, [
      "Taken 0:16 after the start; the 60 s reading is far from it, the 30 s reading nearer. Is it the right slot?",
    ]);
  });

  test("inside its window, or nearest to its own time, it is not", () => {
    for (const elapsedS of [58, 62, 50]) assert.deepEqual(asked(bench({}), 60, "30", "20.0", elapsedS), []);
  });

  test("nothing is asked of a time that nothing proves", () => {
    const { batch, run } = bench({});
    const draft = { ...typed(run, 60, "30", "20.0", 3700), doubt: { id: 1, why: "restarted" } };
    assert.deepEqual(whatLooksWrong(batch, draft), []);
  });
});

describe("a temperature that jumped", () => {
  test("is asked when it left this cylinder's last and the batch's last", () => {
    assert.match(
      asked(bench(two()), SLOT[2], "34", "22.1")[0],
      /^22.1 °C is more than 2 °C from before \(20.0 °C here\)/,
    );
    assert.deepEqual(asked(bench(two()), SLOT[2], "34", "22.0"), []);
  });

  test("is not where the room moved the others too", () => {
    const warm = bench(two(), {}, { 30: read("4", 30), 3600: read("3.5", 3600, "23.0") });
    assert.deepEqual(asked(warm, SLOT[2], "34", "23.1"), []);
  });
});
