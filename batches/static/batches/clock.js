// The laboratory's time on this tablet: the server's clock, carried on by the counter that nobody can set.

const SLEPT_MS = 2000;
const APART_MS = 1000;

export class LaboratoryClock {
  constructor(serverMs, counterMs = performance.now()) {
    this.setTo(serverMs, counterMs);
  }

  setTo(serverMs, counterMs) {
    const ageMs = performance.now() - counterMs;
    this.serverMs = serverMs;
    this.counterMs = counterMs;
    this.wallMs = Date.now() - ageMs;
  }

  /* Some tablets stop the counter while they sleep; the wall clock then runs ahead of it. */
  sleptMs() {
    const apart = Date.now() - this.wallMs - (performance.now() - this.counterMs);
    return apart > SLEPT_MS ? apart : 0;
  }

  nowMs() {
    return this.serverMs + (performance.now() - this.counterMs) + this.sleptMs();
  }

  /* Compare with a fresh answer of the server; small differences are left, so that times do not jump. */
  compare(serverMs, sentAt, receivedAt) {
    const middle = (sentAt + receivedAt) / 2;
    const apart = serverMs - (this.nowMs() - (performance.now() - middle));
    if (this.sleptMs() || Math.abs(apart) > APART_MS + (receivedAt - sentAt)) this.setTo(serverMs, middle);
  }
}

/* The answer began to arrive when the server had just looked at its clock. */
export function clockOfThisPage(serverIso) {
  const [navigation] = performance.getEntriesByType("navigation");
  return new LaboratoryClock(Date.parse(serverIso), navigation?.responseStart || performance.now());
}
