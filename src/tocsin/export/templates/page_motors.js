// Patterns on the motors of one pad, as a series of calls; and the same on a device that vibrates as a whole.
//
// A pad plays one pattern at a time, since a new effect replaces the old one. The highest priority wins, the newest
// among equals; what is outranked or replaced is not resumed: half a triple would be a form that nobody has learned.
// Steps are timed from the pattern's begin, so that delays do not add up. One that begins later than LATE_NS is played
// whole from now: its form counts for more than where it ends.

const LATE_NS = 20e6;
const APART_NS = 50e6;                     // faster calls upset some pads' radio
const MARGIN_NS = 100e6;                   // no gap between two steps, and an end by itself should this page hang
const LONGEST_NS = 4.5e9;                  // browsers refuse effects of more than five seconds

// The spans of a pattern with the same strengths, in nanoseconds from its begin, none longer than one call can last.
function partsOf(pattern) {
  const spans = [];
  let atNs = 0;
  for (let n = 0; n < pattern.times; n += 1) {
    for (const { strong, weak, lasts_ns: lastsNs } of pattern.steps) {
      const last = spans[spans.length - 1];
      if (last && last.strong === strong && last.weak === weak) {
        last.endNs += lastsNs;
      } else {
        spans.push({ beginNs: atNs, endNs: atNs + lastsNs, strong, weak });
      }
      atNs += lastsNs;
    }
  }
  return [].concat(...spans.map(piecesOf));
}

function piecesOf(span) {
  const pieces = [];
  for (let beginNs = span.beginNs; beginNs < span.endNs;) {
    const restNs = span.endNs - beginNs;
    const endNs = restNs < LONGEST_NS + APART_NS ? span.endNs : beginNs + LONGEST_NS;
    pieces.push({ ...span, beginNs, endNs });
    beginNs = endNs;
  }
  return pieces;
}

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

// A pattern as navigator.vibrate wants it: milliseconds on, off, on ... from now, without what has passed already.
function pulsesOf(pattern, passedNs) {
  const pulses = [];
  for (const part of partsOf(pattern)) {
    const ms = Math.round((part.endNs - Math.max(part.beginNs, passedNs)) / NS_PER_MS);
    const on = part.strong > 0 || part.weak > 0;
    if (ms <= 0) {
      continue;
    }
    if (on === (pulses.length % 2 === 1)) {
      pulses[pulses.length - 1] += ms;     // the same as before it: one longer pulse, or one longer silence
    } else if (on || pulses.length) {
      pulses.push(ms);
    }
  }
  return pulses.slice(0, pulses.length - 1 + (pulses.length % 2));     // without a silence at the end
}

class Vibrator {
  constructor(vibrate) {
    this._vibrate = vibrate;               // navigator.vibrate or null
    this._key = "";
    this._priority = -1;
    this._endNs = 0;
  }

  get present() {
    return this._vibrate !== null;
  }

  // Play a pattern; "" or why not. The same cue for several roles shakes once.
  begin(key, pattern, beginNs, nowNs, priority) {
    if (!this.present) {
      return "absent";
    }
    const plays = nowNs < this._endNs;
    if (plays && key === this._key) {
      return "";
    }
    if (plays && this._priority > priority) {
      return "outranked";
    }
    const passedNs = nowNs - beginNs > LATE_NS ? 0 : Math.max(0, nowNs - beginNs);
    const pulses = pulsesOf(pattern, passedNs);
    if (!this._vibrate(pulses)) {
      return "refused";
    }
    this._key = key;
    this._priority = priority;
    this._endNs = nowNs + pulses.reduce((sum, ms) => sum + ms, 0) * NS_PER_MS;
    return "";
  }

  stop(nowNs) {
    if (this.present && nowNs < this._endNs) {
      this._vibrate([0]);
    }
    this._endNs = 0;
  }
}
