// What is asked before a value is kept: the band of the stem, the reading before, the temperature.

import assert from "node:assert/strict";
import { describe, test } from "node:test";
import {
  bandOf,
  carriedTemperature,
  earlierReadings,
  whatLooksWrong,
} from "../../batches/static/batches/bench/checks.js";

const BATCH = { schedule_s: [30, 60, 120], stem: [-5, 60], step: 0.5, unit: "g/L", possible_c: [10, 40] };

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
