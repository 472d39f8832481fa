// What the queue asks of a store, kept in memory: a number for each entry, the order of the numbers, and copies
// only, as in the browser's own database, which is tried in a real browser. Writing takes a while, as it does there.

import { setImmediate } from "node:timers/promises";

export class MemoryStore {
  #kept = new Map();
  #last = 0;

  async add(entry) {
    this.#last += 1;
    const n = this.#last;
    await this.put({ ...entry, n });
    return n;
  }

  async put(entry) {
    const copy = structuredClone(entry);
    await setImmediate();
    this.#kept.set(copy.n, copy);
  }

  all() {
    const numbers = [...this.#kept.keys()].sort((a, b) => a - b);
    return Promise.resolve(numbers.map((n) => structuredClone(this.#kept.get(n))));
  }

  async forget(n) {
    await setImmediate();
    this.#kept.delete(n);
  }
}
