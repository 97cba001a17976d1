// Patterns on the motors of one pad, as a series of calls.
//
// A pad plays one pattern at a time, since a new effect replaces the old one. The highest priority wins, the newest
// among equals; what is outranked or replaced is not resumed: half a triple would be a form that nobody has learned.

const MARGIN_NS = 100e6;                   // no gap between two steps, and an end by itself should this page hang

class Arbiter {
  constructor() {
    this.clear();
  }

  // Forget everything: the motors were stopped, or the pad is gone.
  clear() {
    this._running = null;
    this._calledNs = null;
    this._turning = false;
    this._stop = false;
  }

  // Take a pattern that begins at `beginNs`; false if it is outranked. `step` gives its first call.
  begin(key, pattern, beginNs, nowNs, priority) {
    if (this._running && this._running.priority > priority) {
      return false;
    }
    const fromNs = nowNs - beginNs > LATE_NS ? nowNs : beginNs;
    this._running = { key, priority, beginNs: fromNs, parts: partsOf(pattern), next: 0 };
    this._calledNs = null;
    this._stop = this._turning && fromNs > nowNs;
    return true;
  }

  // End the pattern if it is the one that plays; `step` then gives the stop.
  end(key) {
    if (this._running && this._running.key === key) {
      this._running = null;
      this._stop = this._turning;
    }
  }

  // When `step` has the next call, or null when nothing plays.
  nextNs() {
    if (this._stop) {
      return 0;
    }
    if (!this._running) {
      return null;
    }
    const { beginNs, parts, next } = this._running;
    const dueNs = beginNs + (next < parts.length ? parts[next].beginNs : parts[parts.length - 1].endNs);
    return this._calledNs === null ? dueNs : Math.max(dueNs, this._calledNs + APART_NS);
  }

  // The call that is due at `nowNs`: {strong, weak, ms}, "stop", or null. What was missed meanwhile is left out.
  step(nowNs) {
    const dueNs = this.nextNs();
    if (dueNs === null || nowNs < dueNs) {
      return null;
    }
    if (this._stop) {
      this._stop = false;
      this._turning = false;
      return "stop";
    }
    const call = this._call(this._advance(nowNs), nowNs);
    this._calledNs = call === null ? this._calledNs : nowNs;
    return call;
  }

  _advance(nowNs) {
    const running = this._running;
    const atNs = nowNs - running.beginNs;
    while (running.next < running.parts.length && running.parts[running.next].endNs <= atNs) {
      running.next += 1;
    }
    if (running.next === running.parts.length) {
      this._running = null;
      return null;
    }
    const part = running.parts[running.next];
    if (part.beginNs > atNs) {             // the part before still holds, and was called already
      return running.next ? running.parts[running.next - 1] : null;
    }
    running.next += 1;
    return part;
  }

  _call(part, nowNs) {
    if (part === null || (part.strong === 0 && part.weak === 0)) {
      const was = this._turning;
      this._turning = false;
      return was ? "stop" : null;
    }
    this._turning = true;
    const leftNs = this._running.beginNs + part.endNs - nowNs;
    return { strong: part.strong, weak: part.weak, ms: Math.ceil((leftNs + MARGIN_NS) / NS_PER_MS) };
  }
}
