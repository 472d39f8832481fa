// The laboratory's time on a tablet whose own clock may be wrong, moved, or asleep.

import assert from "node:assert/strict";
import { afterEach, beforeEach, describe, mock, test } from "node:test";
import {
  aheadOfAnchor,
  answerBeganAt,
  LaboratoryClock,
  PROVEN_MS,
} from "../../batches/static/batches/bench/clock.js";

const SERVER_MS = Date.parse("2026-03-02T08:00:00Z");
const HOUR_MS = 3_600_000;

let wallMs; // what the tablet's clock shows
let counterMs; // the counter of the page, which nobody can set
let listeners;

const pass = (ms) => {
  wallMs += ms;
  counterMs += ms;
};

function turnScreen(visibilityState) {
  document.visibilityState = visibilityState;
  for (const listener of listeners) listener();
}

beforeEach(() => {
  [wallMs, counterMs, listeners] = [SERVER_MS + HOUR_MS, 500, []]; // a wall clock an hour ahead from the beginning
  mock.method(Date, "now", () => wallMs);
  mock.method(performance, "now", () => counterMs);
  globalThis.document = {
    visibilityState: "visible",
    addEventListener: (name, listener) => name === "visibilitychange" && listeners.push(listener),
  };
});

afterEach(() => {
  mock.restoreAll();
  delete globalThis.document;
});

function heardClock() {
  const clock = new LaboratoryClock();
  clock.set(SERVER_MS, null);
  return clock;
}

describe("the laboratory's time", () => {
  test("is carried on by the counter, whatever the wall clock shows", () => {
    const clock = heardClock();
    pass(1500);
    wallMs -= 10 * HOUR_MS;
    assert.equal(clock.nowMs(), SERVER_MS + 1500);
    assert.equal(clock.doubt, null);
  });

  test("that was true at an earlier moment is counted from that moment", () => {
    const clock = new LaboratoryClock();
    clock.set(SERVER_MS, null, "id", counterMs - 200);
    assert.equal(clock.nowMs(), SERVER_MS + 200);
  });

  test("has another name each time it is set, unless it goes on under the old one", () => {
    const clock = heardClock();
    const first = clock.id;
    clock.set(SERVER_MS, null);
    assert.notEqual(clock.id, first);
    clock.set(SERVER_MS, null, first);
    assert.equal(clock.id, first);
  });
});

describe("watching the wall clock", () => {
  test("two seconds of difference are no jump", () => {
    const clock = heardClock();
    const { id } = clock;
    pass(200);
    wallMs += 2000;
    clock.watch();
    assert.deepEqual([clock.doubt, clock.id, clock.nowMs()], [null, id, SERVER_MS + 200]);
  });

  test("small differences do not add up to a jump", () => {
    const clock = heardClock();
    for (let n = 0; n < 5; n += 1) {
      pass(200);
      wallMs += 1500;
      clock.watch();
    }
    assert.equal(clock.doubt, null);
  });

  test("a jump ahead under a page in sight is a moved clock: the time stays by the counter, in doubt", () => {
    const clock = heardClock();
    const { id } = clock;
    pass(200);
    wallMs += 2001;
    clock.watch();
    assert.deepEqual([clock.doubt, clock.nowMs()], ["slept", SERVER_MS + 200]);
    assert.notEqual(clock.id, id);
  });

  test("a jump ahead while the page was hidden is a sleep: the time goes along, in doubt", () => {
    const clock = heardClock();
    turnScreen("hidden");
    turnScreen("visible");
    pass(200);
    wallMs += HOUR_MS;
    clock.watch();
    assert.deepEqual([clock.doubt, clock.nowMs()], ["slept", SERVER_MS + 200 + HOUR_MS]);
  });

  test("a page that was hidden before the last look does not excuse a jump after it", () => {
    const clock = heardClock();
    turnScreen("hidden");
    clock.watch();
    turnScreen("visible");
    wallMs += HOUR_MS;
    clock.watch();
    assert.equal(clock.nowMs(), SERVER_MS);
  });

  test("a wall clock set back is no sleep", () => {
    const clock = heardClock();
    pass(200);
    wallMs -= HOUR_MS;
    clock.watch();
    assert.deepEqual([clock.doubt, clock.nowMs()], [null, SERVER_MS + 200]);
    wallMs += 1000;
    clock.watch();
    assert.equal(clock.doubt, null, "and from there it is watched anew");
  });
});

describe("comparing with the laboratory", () => {
  test("takes the middle between asking and hearing", () => {
    const clock = heardClock();
    const sentAt = counterMs;
    pass(400);
    assert.equal(clock.compare(SERVER_MS - 50, sentAt, counterMs), 250);
  });

  test("leaves a small difference, so that times do not jump", () => {
    const clock = heardClock();
    const { id } = clock;
    pass(100);
    const sentAt = counterMs - 100;
    // Up to one second and the time the answer took.
    assert.equal(clock.compare(SERVER_MS + 50 - 1100, sentAt, counterMs), 1100);
    assert.deepEqual([clock.id, clock.nowMs()], [id, SERVER_MS + 100]);
  });

  test("takes the laboratory's time at a larger one, ahead or behind, and says how far it was off", () => {
    for (const ahead of [1101, -1101]) {
      const clock = heardClock();
      const { id } = clock;
      pass(100);
      assert.equal(clock.compare(SERVER_MS + 50 - ahead, counterMs - 100, counterMs), ahead);
      assert.equal(clock.nowMs(), SERVER_MS + 100 - ahead);
      assert.notEqual(clock.id, id);
    }
  });

  test("ends a doubt, even when nothing was off", () => {
    const clock = new LaboratoryClock();
    clock.set(SERVER_MS, "restarted");
    assert.equal(clock.compare(SERVER_MS, counterMs, counterMs), 0);
    assert.equal(clock.doubt, null);
  });

  test("notices a sleep that came before the answer", () => {
    const clock = heardClock();
    turnScreen("hidden");
    wallMs += HOUR_MS;
    // The wall clock tells the sleep to the second: nothing is off, and nothing stays in doubt.
    assert.equal(clock.compare(SERVER_MS + HOUR_MS, counterMs, counterMs), 0);
    assert.deepEqual([clock.doubt, clock.nowMs()], [null, SERVER_MS + HOUR_MS]);
  });
});

describe("a page loaded anew without the laboratory", () => {
  const anchorOf = (facts = {}) => ({
    id: "before",
    doubt: null,
    nowMs: SERVER_MS,
    wallMs: SERVER_MS + HOUR_MS,
    counter: { worker: "w1", counterMs: 9000 },
    ...facts,
  });

  function carried(anchor, counter) {
    const clock = new LaboratoryClock();
    clock.carry(anchor, counter);
    return clock;
  }

  test("the page before leaves all that is needed", () => {
    const clock = heardClock();
    pass(300);
    assert.deepEqual(clock.anchor({ worker: "w1", counterMs: 42 }), {
      id: clock.id,
      doubt: null,
      nowMs: SERVER_MS + 300,
      wallMs: SERVER_MS + HOUR_MS + 300,
      counter: { worker: "w1", counterMs: 42 },
    });
  });

  test("goes on under the same name when the worker ran through and the wall clock agrees", () => {
    pass(5000);
    const clock = carried(anchorOf(), { worker: "w1", counterMs: 14_000 });
    assert.deepEqual([clock.id, clock.doubt, clock.nowMs()], ["before", null, SERVER_MS + 5000]);
  });

  test("keeps a doubt that the page before had", () => {
    const clock = carried(anchorOf({ doubt: "slept" }), { worker: "w1", counterMs: 9000 });
    assert.deepEqual([clock.id, clock.doubt], ["before", "slept"]);
  });

  test("a wall clock moved meanwhile, ahead or back, puts it in doubt but moves nothing", () => {
    for (const movedMs of [2001, -2001]) {
      wallMs = SERVER_MS + HOUR_MS + 5000 + movedMs;
      const clock = carried(anchorOf(), { worker: "w1", counterMs: 14_000 });
      assert.deepEqual([clock.doubt, clock.nowMs()], ["slept", SERVER_MS + 5000]);
      assert.notEqual(clock.id, "before");
    }
  });

  test("a wall clock off by two seconds agrees", () => {
    for (const movedMs of [2000, -2000]) {
      wallMs = SERVER_MS + HOUR_MS + movedMs;
      assert.equal(carried(anchorOf(), { worker: "w1", counterMs: 9000 }).doubt, null);
    }
  });

  test("goes on by the wall clock, in doubt, when the worker was started anew or none answers", () => {
    pass(5000);
    for (const [anchor, counter] of [
      [anchorOf(), { worker: "w2", counterMs: 10 }],
      [anchorOf(), null],
      [anchorOf({ counter: null }), { worker: "w1", counterMs: 14_000 }],
      [anchorOf({ counter: null }), null],
    ]) {
      const clock = carried(anchor, counter);
      assert.deepEqual([clock.doubt, clock.nowMs()], ["restarted", SERVER_MS + 5000]);
      assert.notEqual(clock.id, "before");
    }
  });

  test("takes the wall clock as it is, in doubt, where nothing was left", () => {
    const clock = carried(undefined, { worker: "w1", counterMs: 14_000 });
    assert.deepEqual([clock.doubt, clock.nowMs()], ["restarted", SERVER_MS + HOUR_MS]);
  });
});

describe("how far the clock of a page that is gone was ahead", () => {
  const anchor = { nowMs: SERVER_MS + 700, wallMs: SERVER_MS, counter: { worker: "w1", counterMs: 9000 } };

  test("is proven by the worker's counter where it ran through", () => {
    wallMs = SERVER_MS + HOUR_MS; // moved since: not looked at
    const found = aheadOfAnchor(anchor, SERVER_MS + 1000, { worker: "w1", counterMs: 10_000 });
    assert.deepEqual(found, { aheadMs: 700, isBridged: true });
  });

  test("is told by the wall clock otherwise, and not proven", () => {
    wallMs = SERVER_MS + 1000;
    for (const [left, counter] of [
      [anchor, { worker: "w2", counterMs: 10_000 }],
      [anchor, null],
      [
        { ...anchor, counter: null },
        { worker: "w1", counterMs: 10_000 },
      ],
      [{ ...anchor, counter: null }, null],
    ]) {
      assert.deepEqual(aheadOfAnchor(left, SERVER_MS + 1000, counter), { aheadMs: 700, isBridged: false });
    }
  });

  test("proves a time within two seconds", () => assert.equal(PROVEN_MS, 2000));
});

describe("when the page's own answer began", () => {
  const navigated = (entries) => mock.method(performance, "getEntriesByType", (type) => entries[type] ?? []);

  test("is when its first byte came", () => {
    navigated({ navigation: [{ responseStart: 123 }] });
    assert.equal(answerBeganAt(), 123);
  });

  test("is now where the browser does not tell", () => {
    for (const navigation of [[{ responseStart: 0 }], []]) {
      navigated({ navigation });
      assert.equal(answerBeganAt(), 500);
    }
  });
});
