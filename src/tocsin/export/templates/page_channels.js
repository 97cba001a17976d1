// The channels of this device: each has its own schedule, is told the origins, and fires what is due.

class Channels {
  // `devices`: {tones, pads, vibrator}. `tell` is called with each word that shows.
  constructor(plan, timeline, devices, record, tell) {
    this._patterns = plan.plan.patterns;
    this._timeline = timeline;
    this._devices = devices;
    this._record = record;
    this._tell = tell;
    this.shakesFor = "";                   // the role whose cues this device itself shakes for, empty for all
    this.anew();
  }

  // Begin a new match: nothing has been given yet.
  anew() {
    const { tones, pads, vibrator } = this._devices;
    const of = (channel) => this._timeline.firings.filter((firing) => firing.channel === channel);
    const shown = new Set(of("screen").map(occurrenceOf));
    // A cue that only the strip shows gets a frame here: this page has no strip.
    const lights = of("light").filter((firing) => !shown.has(occurrenceOf(firing)));
    this._screen = new Schedule([...of("screen"), ...lights], this._timeline);
    this._rumble = new Schedule(of("rumble"), this._timeline);
    this._sound = new Schedule(of("sound"), this._timeline);
    tones.withdrawFrom(0, true);
    pads.stop();
    vibrator.stop(0);
  }

  get _all() {
    return [this._rumble, this._screen, this._sound];
  }

  setOrigins(origins, variant, given, nowNs) {
    this._all.forEach((schedule) => {
      schedule.setOrigins(origins, variant);
      schedule.give(given);
    });
    this._devices.tones.withdrawFrom(nowNs, false);
  }

  // Fire what is due, the pads first: their motors take longest.
  tick(nowNs) {
    const { tones, pads } = this._devices;
    this._rumble.due(nowNs).forEach((order) => this._shake(order, nowNs));
    pads.step(nowNs);
    this._screen.due(nowNs).forEach((order) => this._show(order, nowNs));
    this._sound.due(nowNs).forEach((order) => this._sing(order, nowNs));
    tones.prepare(this._sound.upcoming(nowNs + AHEAD_NS).map((shot) => this._tone(shot, shot.beginNs)), nowNs);
    tones.forget(nowNs);
  }

  // When there is something to do again, or null.
  nextNs() {
    const times = [...this._all.map((schedule) => schedule.nextNs()), this._devices.pads.nextNs()];
    const due = times.filter((ns) => ns !== null);
    return due.length ? Math.min(...due) : null;
  }

  // The shot that shows, with its pattern and how often its cue occurs; null for none.
  showing() {
    const shot = foremost(this._screen.live);
    if (shot === null) {
      return null;
    }
    const { channel, pattern, cue } = shot.firing;
    const known = this._patterns[channel][pattern];
    const same = this._timeline.firings.filter((firing) => (
      firing.cue === cue && firing.channel === channel && firing.match_ns !== null
    ));
    return { shot, pattern: channel === "light" ? frameFromLight(known) : known, count: same.length };
  }

  // Let a pad that came play what holds for its role, once.
  catchUp(role, nowNs) {
    const held = this._rumble.live.filter((shot) => shot.firing.role === role && shot.firing.until !== null);
    const shot = foremost(held);
    if (shot !== null) {
      const { pattern, priority } = shot.firing;
      this._devices.pads.begin(role, keyOf(shot), this._patterns.rumble[pattern], nowNs, nowNs, priority);
    }
  }

  _show({ verb, shot, why }, nowNs) {
    if (verb === "begin" || verb === "resume") {
      this._tell(shot.firing.word);
      this._played(shot, nowNs, ["screen"]);
    } else if (verb === "skip") {
      this._record.firing(nowNs, shot, "skipped", why, null);
    }
  }

  _shake({ verb, shot, why }, nowNs) {
    const { pads, vibrator } = this._devices;
    const { role, cue, n, pattern, priority } = shot.firing;
    if (verb === "skip") {
      this._record.firing(nowNs, shot, "skipped", why, null);
    } else if (verb === "end" && why === "withdrawn") {
      pads.end(role, keyOf(shot));
      vibrator.stop(nowNs);
    } else if (verb === "begin" || verb === "resume") {
      const known = this._patterns.rumble[pattern];
      const key = cue + "/" + n + "/" + shot.instance;
      const mine = ["", role].includes(this.shakesFor);
      const answers = {
        pad: pads.begin(role, keyOf(shot), known, shot.beginNs, nowNs, priority),
        device: mine ? vibrator.begin(key, known, shot.beginNs, nowNs, priority) : "absent",
      };
      const by = Object.keys(answers).filter((what) => answers[what] === "");
      const refused = Object.values(answers).find((answer) => answer !== "absent") || "absent";
      this._answered(shot, by.length ? "" : refused, nowNs, by);
    }
  }

  _sing({ verb, shot, why }, nowNs) {
    const tones = this._devices.tones;
    const key = keyOf(shot);
    if (verb === "end" && why === "withdrawn") {
      tones.withdraw(key);
    } else if ((verb === "begin" || verb === "skip") && tones.sounded(key, nowNs)) {
      // It was set on the audio clock, whatever held this page up since.
      this._record.firing(nowNs, shot, "played", "", 0, ["loudspeaker"]);
    } else if (verb === "skip") {
      tones.withdraw(key);
      this._record.firing(nowNs, shot, "skipped", why, null);
    } else if (verb === "begin") {
      this._answered(shot, tones.set(this._tone(shot, nowNs), nowNs), nowNs, ["loudspeaker"]);
    }
  }

  _tone(shot, beginNs) {
    const { pattern, lasts_ns: lastsNs, priority } = shot.firing;
    return { key: keyOf(shot), pattern: this._patterns.sound[pattern], beginNs, lastsNs, priority };
  }

  _answered(shot, refused, nowNs, by) {
    if (refused) {
      this._record.firing(nowNs, shot, "skipped", refused, null);
    } else {
      this._played(shot, nowNs, by);
    }
  }

  _played(shot, nowNs, by) {
    const late = shot.resumed ? null : nowNs - shot.beginNs;
    this._record.firing(nowNs, shot, shot.resumed ? "resumed" : "played", "", late, by);
  }
}

function occurrenceOf(firing) {
  return firing.cue + "/" + firing.n;
}
