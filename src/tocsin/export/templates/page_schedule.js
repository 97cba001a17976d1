// What one channel has to do, and when. Told origins, asked what is due; it reads no clock.
//
// A one-shot firing begins at most once a run. Later than its limit it is skipped: "crossed" if the clock was set past
// it, "late" if this page was (a tab in the background, a blocked browser): nothing is ever burst out. A firing with an
// `until` is a state: whenever now lies in its interval and it does not show, what is left of it is resumed. A clock
// that is put back takes a state away whose begin lies ahead again; but a pad is not shaken for it twice. Once a later
// segment of the match has begun, what an earlier one still had ahead is crossed, what was to last until a moment of it
// ends.

// A shot is a firing placed in real time: {firing, instance, beginNs, endNs, resumed}; endNs is null while it hangs on
// an anchor that is still unknown. An order is one thing to do now: {verb, shot, why}, verb one of begin, resume,
// change, end (by itself, or "withdrawn"), skip (late, crossed, given).
class Schedule {
  constructor(firings, timeline) {
    this._firings = firings;
    this._timeline = timeline;
    this._origins = new Map();
    this._variant = "";
    this._done = new Set();
    this._given = new Set();
    this._live = new Map();
    this._waiting = [];
    this._stale = true;
  }

  get live() {
    return [...this._live.values()];
  }

  // Take the origins that hold from now on; none of them: the clock is held, or the run is over.
  setOrigins(origins, variant) {
    this._origins = new Map(origins.map((origin) => [origin.anchor, origin]));
    this._variant = variant;
    this._stale = true;
  }

  // Count these firings as given by hand: they are skipped when due.
  give(numbers) {
    numbers.forEach((no) => this._given.add(no));
    this._stale = true;
  }

  // When the next order falls due, or null.
  nextNs() {
    if (this._stale) {
      return 0;
    }
    const ends = this.live.filter((shot) => shot.endNs !== null).map((shot) => shot.endNs);
    const times = this._waiting.length ? [...ends, this._waiting[0].beginNs] : ends;
    return times.length ? Math.min(...times) : null;
  }

  // The shots that will begin before `untilNs`, so that they can be prepared.
  upcoming(untilNs) {
    const comes = (shot) => shot.beginNs < untilNs && !this._given.has(shot.firing.no);
    return this._waiting.filter((shot) => comes(shot) && !this._cutOff(shot.firing) && !this._leftOut(shot.firing));
  }

  // What is to be done at `nowNs`, ends before begins; it counts as done.
  due(nowNs) {
    const orders = [];
    if (this._stale) {
      this._stale = false;
      orders.push(...this._replace(nowNs));
    }
    for (const shot of this.live.filter((one) => one.endNs !== null && one.endNs <= nowNs)) {
      this._live.delete(keyOf(shot));
      orders.push({ verb: "end", shot, why: "" });
    }
    while (this._waiting.length && this._waiting[0].beginNs <= nowNs) {
      const order = this._begin(this._waiting.shift(), nowNs);
      if (order) {
        orders.push(order);
      }
    }
    return orders;
  }

  _begin(shot, nowNs) {
    const key = keyOf(shot);
    const fresh = !this._done.has(key);
    this._done.add(key);
    const firing = shot.firing;
    const skip = (why) => (fresh ? { verb: "skip", shot, why } : null);
    if (this._given.has(firing.no)) {
      return skip("given");
    }
    const origin = this._origins.get(firing.begin.anchor);
    if (this._cutOff(firing)) {
      return skip("crossed");
    }
    const leftOut = this._leftOut(firing);
    // A state that is over by now has nothing left to show, however short it was.
    const over = firing.held && shot.endNs !== null && shot.endNs <= nowNs;
    const onTime = !leftOut && !over && nowNs <= shot.beginNs + firing.late_limit_ns;
    if (firing.until !== null && (shot.endNs === null || nowNs < shot.endNs) && !(fresh && onTime)) {
      const resumed = { ...shot, resumed: true };
      this._live.set(key, resumed);
      return { verb: "resume", shot: resumed, why: "" };
    }
    if (fresh && onTime) {
      this._live.set(key, shot);
      return { verb: "begin", shot, why: "" };
    }
    return skip(leftOut || shot.beginNs + firing.late_limit_ns < origin.sentNs ? "crossed" : "late");
  }

  // Whether a later segment begins before this firing can.
  _cutOff({ begin }) {
    const cut = cutNs(begin.anchor, this._timeline, this._origins);
    return realNs(this._origins.get(begin.anchor), begin.offset_ns) >= cut;
  }

  // Whether it belongs to a part of the match before the moment at which the clock was started.
  _leftOut({ begin }) {
    const origin = this._origins.get(begin.anchor);
    return realNs(origin, begin.offset_ns) < origin.startsNs;
  }

  // Place all firings anew after origins or variant changed; what that ends or moves.
  _replace(nowNs) {
    const placed = new Map();
    for (const shot of this._firings.map((firing) => this._place(firing)).filter(Boolean)) {
      placed.set(keyOf(shot), shot);
    }
    const orders = [];
    for (const [key, old] of [...this._live]) {
      const shot = placed.get(key) || null;
      placed.delete(key);
      if (shot && old.firing.until === null) {
        continue;                          // a one-shot pattern runs on in real time
      }
      const ahead = shot && shot.beginNs > nowNs && old.firing.held;
      if (!shot || ahead || (shot.endNs !== null && shot.endNs <= nowNs)) {
        this._live.delete(key);
        orders.push({ verb: "end", shot: old, why: "withdrawn" });
        if (shot) {
          placed.set(key, shot);
        }
      } else if (shot.endNs !== old.endNs) {
        const moved = { ...old, endNs: shot.endNs };
        this._live.set(key, moved);
        orders.push({ verb: "change", shot: { ...moved, resumed: true }, why: "" });
      }
    }
    const waits = (shot) => !this._done.has(keyOf(shot)) || shot.firing.until !== null;
    this._waiting = [...placed.values()].filter(waits);
    this._waiting.sort((a, b) => a.beginNs - b.beginNs || a.firing.no - b.firing.no);
    return orders;
  }

  // Where a firing stands in real time, or null while it cannot come.
  _place(firing) {
    const origin = this._origins.get(firing.begin.anchor);
    if (!origin || (firing.when && firing.when !== this._variant)) {
      return null;
    }
    const landNs = realNs(origin, firing.begin.offset_ns);
    const cut = cutNs(firing.begin.anchor, this._timeline, this._origins);
    const shot = { firing, instance: origin.instance, beginNs: cut, endNs: cut, resumed: false };
    if (landNs >= cut) {
      return shot;                         // to be noted as crossed when that segment begins
    }
    return { ...shot, beginNs: Math.max(landNs, origin.startsNs), endNs: this._endNs(firing, landNs) };
  }

  _endNs(firing, landNs) {
    if (firing.until === null) {
      return landNs + firing.lasts_ns;
    }
    const until = this._origins.get(firing.until.anchor);
    // Wherever it began: it ends no later than the segment in which its end lies.
    const ownNs = until ? realNs(until, firing.until.offset_ns) : Infinity;
    const endNs = Math.min(ownNs, cutNs(firing.until.anchor, this._timeline, this._origins));
    const called = this._timeline.rank(firing.begin.anchor) < 0;
    if (endNs <= landNs && called) {
      return landNs + firing.lasts_ns;     // called after the moment that it was to hold until
    }
    return endNs === Infinity ? null : endNs;
  }
}

function keyOf(shot) {
  return shot.firing.no + "/" + shot.instance;
}

// The shot that shows while several last: the highest priority, among equals the newest.
function foremost(shots) {
  const rank = (shot) => [shot.firing.priority, shot.beginNs, shot.firing.no, shot.instance];
  return shots.reduce((best, shot) => (best === null || before(rank(best), rank(shot)) ? shot : best), null);
}

function before(one, other) {
  const place = one.findIndex((value, n) => value !== other[n]);
  return place >= 0 && one[place] < other[place];
}
