// One match: what people do to its clock, and what follows for the origins. Told the time, it keeps none.
//
// standby -start-> waiting (count-in) -> running <-hold, resume-> held; running -> over -again-> standby. Cancelling
// leads straight back to standby. What does not apply is refused with a sentence and changes nothing.

const COUNT_IN_NS = 5 * NS_PER_S;
const LEAD_IN_NS = 0.5 * NS_PER_S;         // a start without count-in begins this far ahead
const TWICE_NS = 2 * NS_PER_S;             // two presses within this begin one period, not two
const NUDGE_NS = 0.2 * NS_PER_S;
const GIVEN_NS = 0.1 * NS_PER_S;           // so long after its moment a cue has been given, at the latest
const WHERE = {
  standby: tr("no match is on"),
  waiting: tr("the match has not begun"),
  running: tr("the match is running"),
  held: tr("the clock is held"),
  over: tr("the match is over"),
};
// What a status says of a match of which nothing is hidden and in which no key is named.
const PLAIN = {
  shows: ["clock", "ahead"], sign: [], ofMatch: true, begins: { anchor: MATCH, offset_ns: 0 }, behindNs: 0,
  clearUntilNs: null, outsideUntilNs: null, keepsOut: false, ask: "", hasResult: false, keys: [],
  start: { by: "press", countInNs: 0 }, earlyMs: 0, typed: "",
};

class Match {
  // `at` is the point of the match that falls on the start, `rate` match seconds in a real second.
  constructor(timeline, at, rate, record) {
    this.timeline = timeline;
    this.at = at;
    this.rate = rate;
    this.record = record;
    this.variant = timeline.defaultVariant;
    this.anew();
  }

  anew() {
    this.phase = "standby";
    this.origins = new Origins(this.timeline);
    this.heldNs = null;
    this.startsNs = null;
    this.countsFromNs = null;              // when the count-in began, null without one
    this.startedBy = "";                   // "count_in", "press", or "itself" without a person
    this.given = [];
    this._onNs = 0;                        // what is left of a nudge, which waits for a cue
    this._endedNs = null;
    this.changed = true;
  }

  status() {
    const { phase, origins, heldNs, variant, given } = this;
    return { phase, origins, heldNs, variant, given };
  }

  elapsed(nowNs) {
    return this.origins.elapsed(this.heldNs === null ? nowNs : this.heldNs);
  }

  reading(nowNs) {
    return this.timeline.at(this.elapsed(nowNs));
  }

  // The origins that channels fire by: none in standby, while held, and after all has rung out.
  firingOrigins(nowNs) {
    const rings = this.phase === "over" && !this.rungOut(nowNs);
    return this.phase === "waiting" || this.phase === "running" || rings ? [...this.origins.known.values()] : [];
  }

  rungOut(nowNs) {
    return this._endedNs !== null && nowNs >= this._endedNs + RING_OUT_NS;
  }

  // Go on to the phase that holds by now.
  settle(nowNs) {
    if (this.phase === "waiting" && nowNs >= this.startsNs) {
      this.phase = "running";
    }
    if (this._onNs !== 0 && (this.phase === "waiting" || this.phase === "running")) {
      this._goOn(nowNs);
    }
    if (this.phase === "running" && this.reading(nowNs).ended) {
      this.phase = "over";
      this._endedNs = nowNs;
      this.record.end(nowNs, "over");
    }
  }

  // Start: the moment falls on `originNs`; with a count-in that lies ahead. `by` is what started it.
  start(nowNs, originNs, by) {
    if (this.phase !== "standby") {
      return tr("cannot start: {why}", { why: WHERE[this.phase] });
    }
    this.origins.setStart(this.at, originNs, this.rate, nowNs);
    this.startsNs = originNs;
    this.countsFromNs = by === "count_in" ? nowNs : null;
    this.startedBy = by;
    this.phase = "waiting";
    this.record.begin(nowNs, this);
    return this._taken(nowNs, "start", [...this.origins.known.keys()]);
  }

  holdOrResume(nowNs) {
    this.settle(nowNs);
    if (this.phase === "held") {
      return this._resume(nowNs);
    }
    if (this.phase !== "running") {
      return tr("cannot hold the clock: {why}", { why: WHERE[this.phase] });
    }
    this.phase = "held";
    this.heldNs = nowNs;
    this.record.held(nowNs);
    return this._taken(nowNs, "hold", []);
  }

  // Move the clock: a positive time means that the match began earlier, so the clock goes on. What would make it lose a
  // cue waits until that has been given.
  nudge(nowNs, byNs) {
    this.settle(nowNs);
    if (!["waiting", "running", "held"].includes(this.phase)) {
      return tr("cannot correct the clock: {why}", { why: WHERE[this.phase] });
    }
    this._onNs += byNs;
    return this._goOn(nowNs);
  }

  // Move the clock by as much of a nudge as is possible now.
  _goOn(nowNs) {
    const movedNs = this._withinReach(this._onNs, this.heldNs === null ? nowNs : this.heldNs);
    if (movedNs === 0) {
      return "";
    }
    this._onNs -= movedNs;
    const anchors = this.origins.corrected;
    this.origins.move(-movedNs, nowNs, anchors);
    if (this.phase === "waiting") {
      this.startsNs -= movedNs;
      this.countsFromNs = this.countsFromNs === null ? null : this.countsFromNs - movedNs;
    }
    return this._taken(nowNs, "nudge", anchors);
  }

  // How far the clock can go on now so that no cue is lost: one that would lie further in the past than its late limit
  // allows is brought to land at once, and the rest waits until it has been given.
  _withinReach(byNs, nowNs) {
    if (byNs <= 0) {
      return byNs;
    }
    const latest = this.origins.latest;
    const own = this.timeline.firings.filter((firing) => (
      firing.begin.anchor === latest.anchor && ["", this.variant].includes(firing.when)
    ));
    const lost = own.map((firing) => [realNs(latest, firing.begin.offset_ns), firing.late_limit_ns]).filter(
      ([landNs, limitNs]) => (
        landNs > nowNs - GIVEN_NS && landNs >= latest.startsNs && landNs - byNs + limitNs < nowNs
      ),
    );
    return Math.max(0, Math.min(byNs, ...lost.map(([landNs]) => landNs - nowNs)));
  }

  // The period that a person begins now, or null. It may begin as soon as the one before it is on.
  awaited(nowNs) {
    const segment = this.phase === "running" ? this.origins.awaited : null;
    if (!segment) {
      return null;
    }
    const place = this.timeline.periods.findIndex((slot) => slot.id === segment.anchor);
    const reading = this.reading(nowNs);
    const due = reading.awaits === segment.anchor || reading.period === this.timeline.periods[place - 1].id;
    return due ? this.timeline.periods[place] : null;
  }

  beginPeriod(nowNs, atNs) {
    this.settle(nowNs);
    const slot = this.awaited(nowNs);
    if (!slot) {
      return this.phase === "running"
        ? tr("no period waits to be begun by hand")
        : tr("cannot begin a period: {why}", { why: WHERE[this.phase] });
    }
    const latest = this.origins.latest;
    if (latest.anchor !== this.timeline.segments[0].anchor && nowNs - latest.sentNs < TWICE_NS) {
      return tr("a period was begun a moment ago: press again if the next one begins already");
    }
    this.origins.set(slot.id, Math.max(atNs, latest.originNs), nowNs);
    return this._taken(nowNs, "begin", [slot.id]);
  }

  choose(nowNs, variant) {
    if (this.phase === "over") {
      return tr("cannot choose a variant: {why}", { why: WHERE[this.phase] });
    }
    this.variant = variant;
    if (this.phase !== "standby") {        // a record's header says what was chosen before
      this.record.variant(nowNs, variant);
    }
    return this._taken(nowNs, "choose", []);
  }

  // Note a mark that began at `atNs`. It sets an origin only if a window or a cue hangs on it.
  mark(nowNs, label, atNs) {
    this.settle(nowNs);
    if (!["running", "held", "over"].includes(this.phase)) {
      return tr("cannot mark: {why}", { why: WHERE[this.phase] });
    }
    const anchor = "mark." + label;
    if (!this._hangsOn(anchor)) {
      return "";
    }
    this.origins.set(anchor, this.heldNs === null ? atNs : Math.min(atNs, this.heldNs), nowNs);
    return this._taken(nowNs, "mark", [anchor]);
  }

  // Give a cue by hand; its next scheduled occurrence then counts as given.
  call(nowNs, cue) {
    this.settle(nowNs);
    const anchor = "call." + cue;
    const firings = this.timeline.firings.filter((firing) => firing.begin.anchor === anchor);
    if (this.phase !== "running") {
      return tr("cannot give a call: {why}", { why: WHERE[this.phase] });
    }
    if (!firings.some((firing) => ["", this.variant].includes(firing.when))) {
      return tr("this cue belongs to another variant");
    }
    this.given.push(...this._nextOccurrence(nowNs, cue));
    this.origins.set(anchor, nowNs, nowNs);
    return this._taken(nowNs, "call", [anchor]);
  }

  // Give this match up: back to standby at once.
  scrap(nowNs) {
    if (!["waiting", "running", "held"].includes(this.phase)) {
      return tr("cannot cancel: {why}", { why: WHERE[this.phase] });
    }
    this.record.end(nowNs, "scrapped");
    this.anew();
    return "";
  }

  again() {
    if (this.phase !== "over") {
      return tr("cannot begin anew: {why}", { why: WHERE[this.phase] });
    }
    this.anew();
    return "";
  }

  _resume(nowNs) {
    const given = (origin) => /^call\./.test(origin.anchor) && origin.originNs <= this.heldNs;
    const moved = [...this.origins.known.values()].filter((origin) => !given(origin)).map((origin) => origin.anchor);
    this.origins.move(nowNs - this.heldNs, nowNs, moved);
    this.heldNs = null;
    this.phase = "running";
    return this._taken(nowNs, "resume", moved);
  }

  _nextOccurrence(nowNs, cue) {
    const elapsed = this.elapsed(nowNs);
    const ahead = this.timeline.firings.filter((firing) => (
      firing.cue === cue && firing.match_ns !== null && ["", this.variant].includes(firing.when)
      && firing.begin.offset_ns >= (elapsed.has(firing.begin.anchor) ? elapsed.get(firing.begin.anchor) : -1)
      && this.origins.reaches(firing.begin)
    ));
    const next = Math.min(...ahead.map((firing) => firing.n));
    return ahead.filter((firing) => firing.n === next).map((firing) => firing.no);
  }

  _hangsOn(anchor) {
    const points = this.timeline.firings.map((firing) => [firing.begin, firing.until]);
    points.push(...this.timeline.windows.map((span) => [span.begin, span.end]));
    return points.some((pair) => pair.some((point) => point && point.anchor === anchor));
  }

  _taken(nowNs, cause, anchors) {
    this.changed = true;
    anchors.forEach((anchor) => this.record.origin(nowNs, this.origins.known.get(anchor), cause));
    return "";
  }
}
