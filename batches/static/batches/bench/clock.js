// The laboratory's time on this tablet: the server's clock, carried on by the counter that nobody can set.
//
// The counter stops with the page, and on some tablets while they sleep. What carries the time across such a
// break is named here, and when nothing proves it the time is in doubt until the laboratory is heard again.

export const PROVEN_MS = 2000; // off by no more, a time is right
const JUMP_MS = 2000;
const APART_MS = 1000;

const newId = () => crypto.getRandomValues(new Uint32Array(2)).join("-");

export class LaboratoryClock {
  constructor() {
    this.hidden = false;
    document.addEventListener(
      "visibilitychange",
      () => (this.hidden ||= document.visibilityState === "hidden"),
    );
  }

  /* `doubt` is null while the time is proven, or "restarted" or "slept". */
  set(nowMs, doubt, id = newId(), counterMs = performance.now()) {
    Object.assign(this, { id, doubt, baseMs: nowMs, counterMs });
    this.look();
  }

  look() {
    [this.lastWallMs, this.lastCounterMs, this.hidden] = [Date.now(), performance.now(), false];
  }

  nowMs() {
    return this.baseMs + (performance.now() - this.counterMs);
  }

  /* Called several times a second: does the wall clock still agree with the counter? */
  watch() {
    const jumpMs = Date.now() - this.lastWallMs - (performance.now() - this.lastCounterMs);
    // A wall clock set back is no sleep: the counter went on, and stays right.
    if (jumpMs > JUMP_MS) this.set(this.nowMs() + (this.hidden ? jumpMs : 0), "slept");
    this.look();
  }

  /* Compare with a fresh answer of the laboratory. Returns how far this clock was ahead. [ms] */
  compare(serverMs, sentAt, receivedAt) {
    this.watch();
    const middle = (sentAt + receivedAt) / 2;
    const aheadMs = this.nowMs() - (performance.now() - middle) - serverMs;
    // Small differences are left, so that times do not jump.
    if (this.doubt || Math.abs(aheadMs) > APART_MS + (receivedAt - sentAt))
      this.set(serverMs, null, undefined, middle);
    return aheadMs;
  }

  /* What a later page needs to carry this time on. `counter` is that of the worker behind the page, or null. */
  anchor(counter) {
    return { id: this.id, doubt: this.doubt, nowMs: this.nowMs(), wallMs: Date.now(), counter };
  }

  /* After a reload without the laboratory: by the worker's counter if it ran through, else by the wall clock. */
  carry(anchor, counter) {
    if (!anchor) return this.set(Date.now(), "restarted");
    const byWallMs = anchor.nowMs + (Date.now() - anchor.wallMs);
    if (!counter || counter.worker !== anchor.counter?.worker) return this.set(byWallMs, "restarted");
    const byCounterMs = anchor.nowMs + (counter.counterMs - anchor.counter.counterMs);
    if (Math.abs(byWallMs - byCounterMs) > JUMP_MS) return this.set(byCounterMs, "slept");
    return this.set(byCounterMs, anchor.doubt, anchor.id);
  }
}

/* How far the clock of a page that is gone is ahead now, when only its anchor is left. [ms]
   The wall clock may have been moved since then: only the worker's counter proves anything. */
export function aheadOfAnchor(anchor, nowMs, counter) {
  const isBridged = Boolean(counter) && counter.worker === anchor.counter?.worker;
  const sinceMs = isBridged ? counter.counterMs - anchor.counter.counterMs : Date.now() - anchor.wallMs;
  return { aheadMs: anchor.nowMs + sinceMs - nowMs, isBridged };
}

/* The answer began to arrive when the server had just looked at its clock. */
export function answerBeganAt() {
  const [navigation] = performance.getEntriesByType("navigation");
  return navigation?.responseStart || performance.now();
}
