// The match clock: what holds at a moment of the match, and match time from origins. Time is an argument, in integer
// nanoseconds. It says the same as the timeline of the program that made this page.

const NS_PER_MS = 1e6;
const NS_PER_S = 1e9;
const RING_OUT_NS = 2 * NS_PER_S;          // cues may ring out this long after the last period that is no settle
const MATCH = "match";

// Minutes and seconds as the official display shows them: "ceil" shows 0:20 while more than 19.0 and at most 20.0 s are
// left, "floor" while at least 20.0 and less than 21.0 s are.
function official(leftNs, digits) {
  const whole = digits === "ceil" ? Math.ceil(leftNs / NS_PER_S) : Math.floor(leftNs / NS_PER_S);
  const seconds = Math.max(0, whole);
  return Math.floor(seconds / 60) + ":" + String(seconds % 60).padStart(2, "0");
}

class Timeline {
  // `plan` is the document in this page's <script id="plan">: game and firings, times in nanoseconds.
  constructor(plan) {
    this.digits = plan.game.digits;
    this.counts = plan.game.counts;
    this.segments = plan.game.segments;
    this.periods = plan.game.periods;
    // Keys are as in moments, which count a window's spans from 1.
    this.windows = plan.game.windows.map((span) => ({ ...span, key: span.id + "." + (span.n + 1) }));
    this.variants = plan.game.variants.map((variant) => variant.id);
    this.defaultVariant = (plan.game.variants.find((variant) => variant.default) || { id: "" }).id;
    this.firings = plan.firings;
  }

  // What holds when `elapsed` (a Map) gives the match time since each known origin. Absent anchors are unknown.
  at(elapsed) {
    const begun = this.segments.map((segment, rank) => (since(elapsed, segment.anchor) >= 0 ? rank : -1));
    const rank = Math.max(...begun);
    if (rank < 0) {
      return this._before(elapsed);
    }
    const segment = this.segments[rank];
    const slot = this._slot(segment.anchor, elapsed.get(segment.anchor));
    const waits = slot === null && rank + 1 < this.segments.length;
    let atNs = elapsed.get(segment.anchor);
    if (waits && segment.lasts_ns !== null) {
      atNs = segment.lasts_ns;             // the match clock stands until a person goes on
    }
    const matchNs = segment.match_ns + atNs;
    const over = this._passed(this.matchEnd(), rank, elapsed);
    const ended = this._passed(this.lastEnd(), rank, elapsed);
    const open = (span) => this._passed(span.begin, rank, elapsed) && !this._passed(span.end, rank, elapsed);
    return {
      period: slot === null ? "" : slot.id,
      awaits: waits ? this.segments[rank + 1].anchor : "",
      windows: ended ? [] : this.windows.filter(open).map((span) => span.key),
      matchNs,
      leftNs: over ? 0 : this._leftNs(slot, atNs, matchNs),
      over,
      ended,
    };
  }

  // The place of a segment's anchor in the match, -1 for a mark or a call.
  rank(anchor) {
    return this.segments.findIndex((segment) => segment.anchor === anchor);
  }

  // The end of the last period that is no settle.
  matchEnd() {
    const places = this.periods.map((slot, place) => (slot.kind === "settle" ? -1 : place));
    return this._periodEnd(Math.max(0, ...places));
  }

  lastEnd() {
    return this._periodEnd(this.periods.length - 1);
  }

  // The point of the match at `matchNs` on the nominal clock, on which open periods take no time.
  pointAt(matchNs) {
    const segment = this.segments.filter((one) => one.match_ns <= matchNs).pop() || this.segments[0];
    return { anchor: segment.anchor, offset_ns: Math.max(0, matchNs - segment.match_ns) };
  }

  _periodEnd(place) {
    const slot = this.periods[place];
    if (slot.end_ns === null) {
      return { anchor: this.periods[place + 1].anchor, offset_ns: 0 };
    }
    return { anchor: slot.anchor, offset_ns: slot.end_ns };
  }

  _before(elapsed) {
    let segment = this.segments[0];
    for (const one of this.segments) {
      if (elapsed.has(one.anchor) && !(since(elapsed, segment.anchor) >= elapsed.get(one.anchor))) {
        segment = one;
      }
    }
    const slot = this._slot(segment.anchor, 0);
    return {
      period: "",
      awaits: "",
      windows: [],
      matchNs: segment.match_ns + (elapsed.get(segment.anchor) || 0),
      leftNs: this._leftNs(slot, 0, segment.match_ns),
      over: false,
      ended: false,
    };
  }

  _slot(anchor, atNs) {
    const liesIn = (slot) => slot.begin_ns <= atNs && (slot.end_ns === null || atNs < slot.end_ns);
    return this.periods.find((slot) => slot.anchor === anchor && liesIn(slot)) || null;
  }

  _passed(point, current, elapsed) {
    const rank = this.rank(point.anchor);
    if (rank >= 0 && rank !== current) {
      return rank < current;
    }
    return elapsed.has(point.anchor) && elapsed.get(point.anchor) >= point.offset_ns;
  }

  _leftNs(slot, atNs, matchNs) {
    if (slot !== null && slot.end_ns === null) {
      return null;
    }
    if (this.counts === "match") {
      const end = this.matchEnd();
      return Math.max(0, this.segments[this.rank(end.anchor)].match_ns + end.offset_ns - matchNs);
    }
    return slot === null || slot.kind === "settle" ? 0 : slot.end_ns - atNs;
  }
}

function since(elapsed, anchor) {
  return elapsed.has(anchor) ? elapsed.get(anchor) : -Infinity;
}

// An origin says where an anchor's match time is zero on this page's clock: {anchor, originNs, rate, instance, sentNs,
// startsNs}. `startsNs` is when a clock that begins in mid-match is started, else 0.
function elapsedNs(origin, nowNs) {
  return Math.round((nowNs - origin.originNs) * origin.rate);
}

function realNs(origin, offsetNs) {
  return origin.originNs + Math.round(offsetNs / origin.rate);
}

// When a segment has passed since a later one begins, as far as that is known; Infinity else, and for marks and calls.
// `origins` is a Map by anchor.
function cutNs(anchor, timeline, origins) {
  const rank = timeline.rank(anchor);
  const later = [...origins.values()].filter((origin) => rank >= 0 && timeline.rank(origin.anchor) > rank);
  return Math.min(Infinity, ...later.map((origin) => origin.originNs));
}

// The newest origin of each anchor. Marks and calls count their instances; segments of the match have one.
class Origins {
  constructor(timeline) {
    this._timeline = timeline;
    this._segments = timeline.segments;
    this.known = new Map();
    this.rate = 1;
  }

  get latest() {
    const known = this._segments.filter((segment) => this.known.has(segment.anchor));
    return known.length ? this.known.get(known[known.length - 1].anchor) : null;
  }

  // The anchors that a correction of the clock moves: the latest segment's, and with it those of segments that its
  // start left out.
  get corrected() {
    const latest = this.latest;
    const same = (origin) => origin === latest || (origin.startsNs > 0 && origin.startsNs === latest.startsNs);
    return [...this.known.values()].filter(same).map((origin) => origin.anchor);
  }

  // Whether the clock comes to a point, as far as is known: not if its segment passes before, or is left out.
  reaches(point) {
    const origin = this.known.get(point.anchor);
    if (!origin) {
      return true;
    }
    const landNs = realNs(origin, point.offset_ns);
    return origin.startsNs <= landNs && landNs < cutNs(point.anchor, this._timeline, this.known);
  }

  // The segment after the latest, which a person begins.
  get awaited() {
    const ranks = this._segments.map((segment, rank) => (this.known.has(segment.anchor) ? rank : -1));
    const rank = Math.max(...ranks);
    return rank >= 0 && rank + 1 < this._segments.length ? this._segments[rank + 1] : null;
  }

  elapsed(nowNs) {
    return new Map([...this.known].map(([anchor, origin]) => [anchor, elapsedNs(origin, nowNs)]));
  }

  // Let the point `at` fall on `originNs`. Segments before its own lie where they would if nothing had been late.
  setStart(at, originNs, rate, nowNs) {
    this.rate = rate;
    const own = this._segments.find((segment) => segment.anchor === at.anchor);
    for (const segment of this._segments.slice(0, this._segments.indexOf(own) + 1)) {
      const behindNs = at.offset_ns + own.match_ns - segment.match_ns;
      this.set(segment.anchor, originNs - Math.ceil(behindNs / rate), nowNs);
    }
    if (own === this._segments[0] && at.offset_ns === 0) {
      return;                              // nothing of the match is left out
    }
    const startsNs = realNs(this.known.get(own.anchor), at.offset_ns);
    this.known.forEach((origin) => { origin.startsNs = startsNs; });
  }

  set(anchor, originNs, nowNs) {
    const old = this.known.get(anchor);
    const again = old && /^(call|mark)\./.test(anchor);
    const instance = again ? old.instance + 1 : 0;
    this.known.set(anchor, { anchor, originNs, rate: this.rate, instance, sentNs: nowNs, startsNs: 0 });
  }

  // Let these anchors begin later by `byNs` of real time.
  move(byNs, nowNs, anchors) {
    for (const anchor of anchors) {
      const origin = this.known.get(anchor);
      const startsNs = origin.startsNs ? origin.startsNs + byNs : 0;
      this.known.set(anchor, { ...origin, originNs: origin.originNs + byNs, startsNs, sentNs: nowNs });
    }
  }
}
