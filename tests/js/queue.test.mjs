// Entries that wait on the tablet: what is sent, in which order, and what becomes of it; and what is done with a
// time that nothing proved when it was taken.

import assert from "node:assert/strict";
import { afterEach, beforeEach, describe, test } from "node:test";
import { EntryQueue } from "../../batches/static/batches/bench/queue.js";
import { MemoryStore } from "./memory-store.mjs";

const TOMAS = { pk: 3, name: "Tomas Example" };
const PETRA = { pk: 4, name: "Petra Example" };
const STORED = [200, { stored: true }];

let sent; // every request: address, options, and its body read
let responses; // the laboratory's, one after the other: [status, body], or an error
let store;
let unexpected; // requests that the test had no response for

beforeEach(() => {
  [sent, responses, store, unexpected] = [[], [], new MemoryStore(), []];
  globalThis.document = { cookie: "theme=dark; csrftoken=abc=; other=1" };
  Object.defineProperty(globalThis, "navigator", { value: {}, configurable: true, writable: true });
  globalThis.fetch = async (address, options) => {
    sent.push({ address, ...options, body: JSON.parse(options.body) });
    const response = await responses.shift();
    if (response instanceof Error) throw response;
    if (!response) unexpected.push(sent.at(-1));
    if (!response) throw new TypeError("Failed to fetch");
    const [status, body] = response;
    return { status, json: async () => (typeof body === "string" ? JSON.parse(body) : await body) };
  };
});

afterEach(() => {
  delete globalThis.document;
  delete globalThis.fetch;
  assert.deepEqual(unexpected, []);
});

const queueOf = (person = TOMAS) => new EntryQueue("/bench/entries/", person, store);
const states = async () => (await store.all()).map(({ state }) => state);
const offline = () => new TypeError("Failed to fetch");

async function queueWith(...kinds) {
  const queue = queueOf();
  for (const kind of kinds) await queue.keep(kind, { run: "7" }, `told of ${kind}`);
  return queue;
}

describe("keeping", () => {
  test("writes down who took it, and gives back its number", async () => {
    const queue = queueOf();
    const n = await queue.keep("void", { run: "7", why: "spill" }, "Cylinder 1 made void");
    const [{ entry_id, ...entry }] = await queue.all();
    assert.match(entry_id, /^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
    assert.deepEqual(entry, {
      n,
      kind: "void",
      content: { run: "7", why: "spill" },
      by: 3,
      by_name: "Tomas Example",
      told: "Cylinder 1 made void",
      state: "waiting",
    });
  });

  test("gives it a random name in the form of a UUID of version 4, also where the page has no TLS", async (t) => {
    const random = t.mock.method(crypto, "getRandomValues", (bytes) => bytes.map((_, n) => n));
    const queue = await queueWith("start");
    random.mock.mockImplementation((bytes) => bytes.fill(255));
    await queue.keep("start", {}, "");
    assert.deepEqual(
      (await queue.all()).map((entry) => entry.entry_id),
      ["00010203-0405-4607-8809-0a0b0c0d0e0f", "ffffffff-ffff-4fff-bfff-ffffffffffff"],
    );
  });

  test("names no two entries alike", async () => {
    const queue = await queueWith(...Array(50).fill("start"));
    assert.equal(new Set((await queue.all()).map((entry) => entry.entry_id)).size, 50);
  });

  test("knows of a time in doubt", async () => {
    const queue = await queueWith("start");
    assert.equal(await queue.hasDoubts(), false);
    await queue.keep("reading", {}, "", { id: "c1", why: "slept" });
    assert.equal(await queue.hasDoubts(), true);
  });
});

describe("sending", () => {
  test("is a post with the page's token, of the entry and nothing else", async () => {
    const queue = await queueWith("start");
    responses = [STORED];
    const [{ entry_id }] = await queue.all();
    assert.equal(await queue.flush(), true);
    assert.deepEqual(sent, [
      {
        address: "/bench/entries/",
        method: "POST",
        headers: { "Content-Type": "application/json", "X-CSRFToken": "abc=", Accept: "application/json" },
        body: { entry_id, kind: "start", content: { run: "7" }, by: 3 },
      },
    ]);
    assert.deepEqual(await states(), ["stored"]);
  });

  test("names an empty token where there is none", async () => {
    const queue = await queueWith("start");
    responses = [STORED];
    globalThis.document = { cookie: "" };
    await queue.flush();
    assert.equal(sent[0].headers["X-CSRFToken"], "");
  });

  test("goes in the order in which it was taken", async () => {
    const queue = await queueWith("start", "reading", "observation");
    responses = [STORED, STORED, STORED];
    await queue.flush();
    assert.deepEqual(
      sent.map(({ body }) => body.kind),
      ["start", "reading", "observation"],
    );
  });

  test("says that nothing was answered when nothing waits", async () => {
    assert.equal(await queueOf().flush(), false);
    const queue = await queueWith("start");
    responses = [STORED];
    await queue.flush();
    assert.equal(await queue.flush(), false, "what is stored is not sent again");
    assert.equal(sent.length, 1);
  });

  test("stops where the network ends: what comes later never overtakes", async () => {
    const queue = await queueWith("start", "reading", "observation");
    responses = [STORED, offline()];
    assert.equal(await queue.flush(), true);
    assert.deepEqual(await states(), ["stored", "waiting", "waiting"]);
    assert.equal(sent.length, 2);
    assert.equal(queue.trouble, "", "no network is no trouble: it is said elsewhere");
  });

  test("of an entry whose response got lost sends the very same again", async () => {
    const queue = await queueWith("reading");
    responses = [offline(), [200, { stored: true, repeated: true }]];
    assert.equal(await queue.flush(), false);
    assert.equal(await queue.flush(), true);
    assert.deepEqual(sent[1].body, sent[0].body);
    assert.deepEqual(await states(), ["stored"]);
  });

  test("leaves to others what they took, and goes past it", async () => {
    await queueOf(PETRA).keep("start", { run: "6" }, "");
    const queue = await queueWith("start");
    responses = [STORED];
    await queue.flush();
    assert.deepEqual(await states(), ["waiting", "stored"]);
    assert.equal(sent[0].body.by, 3);
  });

  test("hands in what others left, under their name, and nothing of one's own or of a time in doubt", async () => {
    await queueOf(PETRA).keep("reading", { run: "6" }, "");
    await queueOf(PETRA).keep("reading", { run: "6" }, "", { id: "c1", why: "slept" });
    const queue = await queueWith("start");
    responses = [STORED];
    assert.equal(await queue.handIn(), true);
    assert.deepEqual(await states(), ["stored", "waiting", "waiting"]);
    assert.deepEqual([sent[0].body.by, sent[0].body.witnessed], [4, true]);
    responses = [[403, { stored: false, sentence: "May not read at the bench." }]];
    await queueOf(PETRA).keep("reading", { run: "8" }, "");
    assert.equal(await queue.handIn(), false);
    assert.equal(queue.trouble, "May not read at the bench.");
  });

  test("waits at a time in doubt, with all that was taken after it", async () => {
    const queue = await queueWith("start");
    await queue.keep("reading", { run: "7" }, "", { id: "c1", why: "slept" });
    await queue.keep("observation", { run: "7" }, "");
    responses = [STORED];
    assert.equal(await queue.flush(), true);
    assert.deepEqual(await states(), ["stored", "waiting", "waiting"]);
  });

  for (const [how, locks] of [
    ["by the browser's lock", { request: lockOf() }],
    ["in turns where the browser has no locks", undefined],
  ]) {
    test(`twice at once sends each entry once, ${how}`, async () => {
      navigator.locks = locks;
      const queue = await queueWith("start", "reading");
      responses = [STORED, STORED];
      const both = await Promise.all([queue.flush(), queue.flush()]);
      assert.deepEqual(both, [true, false]);
      assert.equal(sent.length, 2);
    });
  }

  test("goes on after a turn that failed", async () => {
    const queue = await queueWith("start");
    const [whole, broken] = [store.all, new Error("the database is gone")];
    store.all = () => Promise.reject(broken);
    await assert.rejects(queue.flush(), broken);
    store.all = whole;
    responses = [STORED];
    assert.equal(await queue.flush(), true);
  });
});

/* A lock as the browser gives it: one at a time, all under one name. */
function lockOf() {
  let held = Promise.resolve();
  return (name, work) => {
    assert.equal(name, "siltbook-entries");
    held = held.then(work);
    return held;
  };
}

describe("a response", () => {
  for (const [status, body, sentence] of [
    [409, { sentence: "This cylinder is void." }, "This cylinder is void."],
    [422, { sentence: "The reading is missing.", detail: "not this" }, "The reading is missing."],
    [400, { detail: "Malformed." }, "Malformed."],
    [400, "no JSON at all", "The laboratory could not read this entry."],
  ]) {
    test(`${status} ${JSON.stringify(body)} refuses, and what comes after is sent`, async () => {
      const queue = await queueWith("start", "reading");
      responses = [[status, body], STORED];
      assert.equal(await queue.flush(), true);
      const [refused] = await queue.all();
      assert.deepEqual(
        [refused.state, refused.sentence, refused.told],
        ["refused", sentence, "told of start"],
      );
      assert.deepEqual(await states(), ["refused", "stored"]);
      assert.equal(queue.trouble, "");
    });
  }

  test("that says stored is believed under any status, and clears an earlier sentence", async () => {
    const queue = await queueWith("start");
    responses = [[409, { stored: true, repeated: true, sentence: "Kept before." }]];
    await queue.flush();
    const [entry] = await queue.all();
    assert.deepEqual([entry.state, entry.sentence], ["stored", ""]);
  });

  for (const [status, body, trouble] of [
    [403, { another_person: true, sentence: "Petra is logged in." }, "Petra is logged in."],
    [403, {}, "Log in again in this browser: the laboratory does not take entries without a log-in."],
    [500, "<html>", "The laboratory answered 500. It is tried again."],
    [429, {}, "The laboratory answered 429. It is tried again."],
  ]) {
    test(`${status} ${JSON.stringify(body)} is no refusal: it waits, and says why`, async () => {
      const queue = await queueWith("start", "reading");
      responses = [[status, body]];
      assert.equal(await queue.flush(), false);
      assert.deepEqual(await states(), ["waiting", "waiting"]);
      assert.equal(queue.trouble, trouble);
    });
  }

  test("ends the trouble of the one before", async () => {
    const queue = await queueWith("start");
    responses = [[500, {}], STORED];
    await queue.flush();
    await queue.flush();
    assert.equal(queue.trouble, "");
  });
});

describe("forgetting", () => {
  test("takes off what is stored, and keeps what waits and what was refused", async () => {
    const queue = await queueWith("start", "reading", "observation");
    responses = [[409, { sentence: "No." }], STORED, offline()];
    await queue.flush();
    await queue.forgetStored();
    assert.deepEqual(await states(), ["refused", "waiting"]);
    const [refused] = await queue.all();
    await queue.forget(refused.n);
    assert.deepEqual(await states(), ["waiting"]);
  });
});

describe("a reading taken in doubt", () => {
  const CONTENT = { run: "7", reading: "20", elapsed_s: "65.0" };

  async function settled(content, clockId, aheadMs, isBridged, kind = "reading") {
    const queue = queueOf();
    await queue.keep(kind, content, "", { id: "c1", why: "slept" });
    await queue.settleTimes(clockId, aheadMs, isBridged);
    const entry = (await queue.all()).at(-1);
    assert.equal("doubt" in entry, false, "the doubt is settled");
    return entry.content;
  }

  test("is proven by a counter that went on, up to two seconds either way", async () => {
    for (const aheadMs of [0, 2000, -2000])
      assert.deepEqual(await settled(CONTENT, "c1", aheadMs, true), CONTENT);
  });

  test("is put right by what its clock was ahead, and says so with its number", async () => {
    for (const [aheadMs, elapsedS, aheadS] of [
      [2001, "63.0", "2.0"],
      [5250, "59.7", "5.3"],
      [-60_000, "125.0", "-60.0"],
    ]) {
      assert.deepEqual(await settled(CONTENT, "c1", aheadMs, true), {
        ...CONTENT,
        elapsed_s: elapsedS,
        elapsed_tablet_s: "65.0",
        time_doubt: "slept",
        time_doubt_s: aheadS,
      });
    }
  });

  test("is put right without a counter too, when its clock is seen to be wrong", async () => {
    assert.equal((await settled(CONTENT, "c1", 60_000, false)).elapsed_s, "5.0");
    assert.equal((await settled(CONTENT, "c1", -2001, false)).time_doubt_s, "-2.0");
  });

  test("is marked only when its clock is right by now and no counter went on: it may have been wrong before", async () => {
    for (const aheadMs of [0, 2000, -2000]) {
      const marked = { ...CONTENT, time_doubt: "slept", time_doubt_s: "" };
      assert.deepEqual(await settled(CONTENT, "c1", aheadMs, false), marked);
    }
  });

  test("is marked only when it came from a clock before the one that was compared", async () => {
    for (const isBridged of [true, false]) {
      const marked = { ...CONTENT, time_doubt: "slept", time_doubt_s: "" };
      assert.deepEqual(await settled(CONTENT, "c2", 60_000, isBridged), marked);
    }
  });

  test("of a slot that was missed carries no time, and stays as it is", async () => {
    const missed = { run: "7", state: "missed", elapsed_s: "" };
    assert.deepEqual(await settled(missed, "c1", 60_000, true), missed);
  });

  for (const [kind, field] of [
    ["observation", "seen_at"],
    ["blank reading", "taken_at"],
    ["void", "voided_at"],
  ]) {
    const content = { run: "7", [field]: "2026-03-02T09:00:00.000Z", note: "" };

    test(`${kind}: its moment is put right, and the note says by how much`, async () => {
      const right = { ...content, [field]: "2026-03-02T08:00:00.000Z" };
      right.note = "Time put right: the tablet's clock was 3600.0 s ahead.";
      assert.deepEqual(await settled(content, "c1", 3_600_000, true, kind), right);
    });

    test(`${kind}: a moment from an unknown clock stays, and the note says that`, async () => {
      const note = "Time doubtful: how far the tablet's clock was off is unknown.";
      assert.deepEqual(await settled(content, "c2", 3_600_000, true, kind), { ...content, note });
      const noted = await settled({ ...content, note: "At the rim." }, "c1", 100, false, kind);
      assert.deepEqual(noted, { ...content, note: `At the rim. ${note}` });
    });

    test(`${kind}: a proven moment is left alone`, async () => {
      assert.deepEqual(await settled(content, "c1", 2000, true, kind), content);
    });
  }

  test("of a kind without a moment of its own is only released", async () => {
    const start = { run: "7", started_at: "2026-03-02T08:00:00.000Z" };
    assert.deepEqual(await settled(start, "c1", 60_000, true, "start"), start);
  });

  test("is settled once: a second response does not put it right again", async () => {
    const queue = queueOf();
    await queue.keep("reading", CONTENT, "", { id: "c1", why: "slept" });
    await queue.settleTimes("c1", 5000, true);
    await queue.settleTimes("c1", 5000, true);
    assert.equal((await queue.all())[0].content.elapsed_s, "60.0");
  });

  test("is sent once it is settled, with the time put right", async () => {
    const queue = queueOf();
    await queue.keep("reading", CONTENT, "", { id: "c1", why: "slept" });
    assert.equal(await queue.flush(), false);
    await queue.settleTimes("c1", 5000, true);
    responses = [STORED];
    assert.equal(await queue.flush(), true);
    assert.equal(sent[0].body.content.elapsed_s, "60.0");
    assert.equal("doubt" in sent[0].body, false);
  });
});
