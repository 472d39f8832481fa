// What a tablet keeps beyond a log-out and a restart, in IndexedDB: the entries, and the clock's anchor.

import { openDB } from "./vendor/idb.js";

const opened = openDB("siltbook-bench", 2, {
  upgrade(database, before) {
    if (before < 1) database.createObjectStore("entries", { keyPath: "n", autoIncrement: true });
    if (before < 2) database.createObjectStore("clock");
  },
  blocked() {
    const notice = document.getElementById("notice");
    [notice.textContent, notice.hidden] = [
      "Another bench page is open in an older edition. Close it, then reload this one.",
      false,
    ];
  },
  blocking(_now, _next, event) {
    event.target.close(); // a newer page wants to add to it
  },
});

/* Entries by the number that they are given here, in the order they came. */
export const entryStore = {
  async add(entry) {
    return (await opened).add("entries", entry);
  },
  async put(entry) {
    await (await opened).put("entries", entry);
  },
  async all() {
    return (await opened).getAll("entries");
  },
  async forget(n) {
    await (await opened).delete("entries", n);
  },
};

export async function keepAnchor(anchor) {
  await (await opened).put("clock", anchor, "anchor");
}

export async function keptAnchor() {
  return (await opened).get("clock", "anchor");
}
