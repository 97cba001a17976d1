// Patterns as spans of equal strength, and how a device plays them that vibrates as a whole.
//
// Steps are timed from the pattern's begin, so that delays do not add up. One that begins later than LATE_NS is played
// whole from now: its form counts for more than where it ends.

const LATE_NS = 20e6;
const APART_NS = 50e6;                     // faster calls upset some pads' radio
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
