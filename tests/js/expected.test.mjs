// The band of the next reading: the same on the tablet as in Python, on the vectors that Python handed over.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { describe, test } from "node:test";
import { expectedBand, sharesFrom } from "../../batches/static/batches/bench/expected.js";

const { told, schedule_s, cases } = JSON.parse(
  readFileSync(new URL("../../fixtures/expected_readings.json", import.meta.url), "utf-8"),
);

describe("the band of the next reading", () => {
  test("is that of Python, to a millionth of a unit", () => {
    assert.ok(cases.length >= 20);
    for (const { whole, step, before, elapsed_s, low, high } of cases) {
      const band = expectedBand(told, schedule_s, whole, step, before, elapsed_s);
      assert.ok(Math.abs(band.low - low) < 1e-6, `${JSON.stringify(before)}: ${band.low}, not ${low}`);
      assert.ok(Math.abs(band.high - high) < 1e-6, `${JSON.stringify(before)}: ${band.high}, not ${high}`);
    }
  });

  test("narrows with each reading and falls with them", () => {
    const widthAfter = (before) => {
      const { low, high } = expectedBand(told, schedule_s, 50, 0.5, before, schedule_s[before.length]);
      return high - low;
    };
    const read = schedule_s.slice(0, 3).map((at, i) => [at, [40, 36, 31][i]]);
    assert.ok(widthAfter(read.slice(0, 1)) < widthAfter([]) / 2);
    const { high } = expectedBand(told, schedule_s, 50, 0.5, read, schedule_s[3]);
    assert.ok(high < 36);
  });
});

test("shares are two signs of base 36 each, a soil after the other", () => {
  assert.deepEqual(sharesFrom("rs00r900", 2), [
    [1, 0],
    [0.981, 0],
  ]);
});
