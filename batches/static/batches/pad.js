// The value being typed: a reading and a temperature, by keys or by steps from the last value.

const FIELDS = ["reading", "temperature_c"];
const MOST_SIGNS = 8;

function decimals(step) {
  return (String(step).split(".")[1] ?? "").length;
}

export class Draft {
  constructor(run, slotS) {
    this.run = run;
    this.slotS = slotS;
    this.takenMs = null;
    this.values = { reading: "", temperature_c: "" };
    this.above = false;
    this.field = "reading";
  }

  isFor(run, slotS) {
    return this.run.pk === run.pk && this.slotS === slotS;
  }

  get isTouched() {
    return this.takenMs !== null || FIELDS.some((field) => this.values[field] !== "");
  }

  get isComplete() {
    return this.takenMs !== null && this.isNumber("temperature_c") && (this.above || this.isNumber("reading"));
  }

  isNumber(field) {
    return /^-?\d+(\.\d+)?$/.test(this.values[field]);
  }

  /* Time is the moment the reading was taken: the tap on “Read now”, or else the first key. */
  take(nowMs) {
    this.takenMs ??= nowMs;
  }

  press(key, nowMs) {
    if (this.field === "reading") {
      this.take(nowMs);
      this.above = false;
    }
    const text = this.values[this.field];
    if (key === "back") this.values[this.field] = text.slice(0, -1);
    else if (key === "-") this.values[this.field] = text.startsWith("-") ? text.slice(1) : `-${text}`;
    else if (key === "." && text.includes(".")) return;
    else if (text.length < MOST_SIGNS) this.values[this.field] = text + key;
  }

  step(direction, step, lastValue, nowMs) {
    if (this.field === "reading") {
      this.take(nowMs);
      this.above = false;
    }
    const from = this.isNumber(this.field) ? this.values[this.field] : lastValue;
    if (from === undefined || from === null) return;
    this.values[this.field] = (Number(from) + direction * step).toFixed(Math.max(decimals(step), decimals(from)));
  }

  goAbove(nowMs) {
    this.take(nowMs);
    this.above = !this.above;
    if (this.above) {
      this.values.reading = "";
      this.field = "temperature_c";
    }
  }

  content() {
    const elapsedS = (this.takenMs - Date.parse(this.run.started_at)) / 1000;
    return {
      run: String(this.run.pk),
      slot_s: String(this.slotS),
      state: this.above ? "above scale" : "read",
      reading: this.above ? "" : this.values.reading,
      elapsed_s: elapsedS.toFixed(1),
      temperature_c: this.values.temperature_c,
      source: "tablet",
      reason: "",
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
