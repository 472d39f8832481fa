// The value being typed: a reading and a temperature, by keys or by steps from the last value.

import { slotName } from "./schedule.js";

const FIELDS = ["reading", "temperature_c"];
const MOST_SIGNS = 8;

function decimals(step) {
  return (String(step).split(".")[1] ?? "").length;
}

export class Draft {
  kind = "reading";

  /* `reason` says why it corrects what stands in this slot. */
  constructor(run, slotS, reason = "") {
    this.run = run;
    this.slotS = slotS;
    this.reason = reason;
    this.zero = run.started_at;
    this.takenMs = null;
    this.doubt = null; // what stood against the clock when it was taken
    this.replaces = null; // the refused entry it puts right
    this.settled = {}; // a doubt about its time, with its number once the laboratory's time has told it
    this.values = { reading: "", temperature_c: "" };
    this.above = false;
    this.field = "reading";
  }

  /* A refused entry back in the pad: its value, and the moment it was read at. */
  static from(entry, run) {
    const { content } = entry;
    const draft = new Draft(run, Number(content.slot_s), content.reason);
    draft.zero = content.counted_from || run.started_at;
    draft.takenMs = Date.parse(draft.zero) + Number(content.elapsed_s) * 1000;
    draft.settled = content.time_doubt
      ? { time_doubt: content.time_doubt, time_doubt_s: content.time_doubt_s }
      : {};
    draft.values = { reading: content.reading, temperature_c: content.temperature_c };
    draft.above = content.state === "above scale";
    draft.replaces = entry.n;
    return draft;
  }

  /* Its place in the schedule, in words. */
  get name() {
    return slotName(this.slotS);
  }

  isFor(run, slotS) {
    return this.run.pk === run.pk && this.slotS === slotS;
  }

  get elapsedS() {
    return (this.takenMs - Date.parse(this.zero)) / 1000;
  }

  /* Newer facts of the same cylinder; a moment already taken keeps the zero it counts from. */
  follow(run) {
    this.run = run;
    if (this.takenMs === null) this.zero = run.started_at;
  }

  get isTouched() {
    return this.takenMs !== null || FIELDS.some((field) => this.values[field] !== "");
  }

  get isComplete() {
    return (
      this.takenMs !== null && this.isNumber("temperature_c") && (this.above || this.isNumber("reading"))
    );
  }

  isNumber(field) {
    return /^-?\d+(\.\d+)?$/.test(this.values[field]);
  }

  /* Time is the moment the reading was taken: the tap on “Read now”, or else the first key. */
  take(clock) {
    if (this.takenMs === null) this.takeAnew(clock);
  }

  takeAnew(clock) {
    [this.takenMs, this.doubt, this.settled] = [
      clock.nowMs(),
      clock.doubt && { id: clock.id, why: clock.doubt },
      {},
    ];
    this.zero = this.run.started_at;
  }

  /* The clock `id` that its moment came from was found ahead by so much. */
  settle(id, aheadMs, provenMs) {
    if (!this.doubt) return;
    const { id: own, why } = this.doubt;
    this.doubt = null;
    if (own === id && Math.abs(aheadMs) <= provenMs) return; // the same page: its counter went on
    if (own === id) this.takenMs -= aheadMs;
    // How far a clock before this one was off, nobody knows.
    this.settled = { time_doubt: why, time_doubt_s: own === id ? (aheadMs / 1000).toFixed(1) : "" };
  }

  press(key, clock) {
    if (this.field === "reading") {
      this.take(clock);
      this.above = false;
    }
    const text = this.values[this.field];
    if (key === "back") this.values[this.field] = text.slice(0, -1);
    else if (key === "-") this.values[this.field] = text.startsWith("-") ? text.slice(1) : `-${text}`;
    else if (key === "." && text.includes(".")) return;
    else if (text.length < MOST_SIGNS) this.values[this.field] = text + key;
  }

  /* So many steps from what is typed, or else from the last value; none takes the last value as it is. */
  step(direction, step, lastValue, clock) {
    const from = direction !== 0 && this.isNumber(this.field) ? this.values[this.field] : lastValue;
    if (from === undefined || from === null) return;
    if (this.field === "reading") {
      this.take(clock);
      this.above = false;
    }
    this.values[this.field] = (Number(from) + direction * step).toFixed(
      Math.max(decimals(step), decimals(from)),
    );
  }

  /* The temperature that one key repeats; it is typed by whoever presses that key. */
  carry(temperatureC) {
    this.values.temperature_c = temperatureC;
    if (!this.isNumber("reading") && !this.above) this.field = "reading";
  }

  goAbove(clock) {
    this.take(clock);
    this.above = !this.above;
    if (this.above) {
      this.values.reading = "";
      this.field = "temperature_c";
    }
  }

  content() {
    return {
      run: String(this.run.pk),
      slot_s: String(this.slotS),
      state: this.above ? "above scale" : "read",
      reading: this.above ? "" : this.values.reading,
      elapsed_s: this.elapsedS.toFixed(1),
      counted_from: this.zero,
      temperature_c: this.values.temperature_c,
      source: "tablet",
      reason: this.reason,
      ...this.settled,
    };
  }

  missedContent(reason) {
    return {
      run: String(this.run.pk),
      slot_s: String(this.slotS),
      state: "missed",
      reading: "",
      elapsed_s: "",
      temperature_c: "",
      source: "tablet",
      reason,
    };
  }
}

/* One more reading of the blank, in no slot: it serves by its temperature, whenever it is taken. */
export class BlankDraft extends Draft {
  kind = "blank reading";

  constructor(run) {
    super(run, Number.POSITIVE_INFINITY); // after every slot: all readings of the blank lie before it
  }

  get name() {
    return "one more";
  }

  goAbove() {} // a blank never stands above the scale

  content() {
    const doubt = this.settled.time_doubt;
    return {
      run: String(this.run.pk),
      reading: this.values.reading,
      temperature_c: this.values.temperature_c,
      taken_at: new Date(this.takenMs).toISOString(),
      source: "tablet",
      note: doubt ? `Time doubtful: ${doubt}.` : "",
      takes_back: "",
    };
  }
}
