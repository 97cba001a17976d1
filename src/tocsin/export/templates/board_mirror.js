// What the laptop said last, in the form that clock, schedule and words of a page go by.

const FIRING = ["waiting", "running", "over"];         // phases in which origins place cues

class Mirror {
  constructor() {
    this._origins = null;
    this._fired = "";
    this.state = null;
    this.timeline = null;
    this.changed = false;                  // what cues go by is another
  }

  get run() {
    return this.state && this.state.run;
  }

  get phase() {
    return this.state ? this.state.status.phase : "standby";
  }

  // Why nobody leads now: the laptop has ended, or sets the next thing up. Empty while it plays.
  get away() {
    return this.state ? this.state.away : "";
  }

  // Whether a match is on by what was heard last.
  get runs() {
    return ["waiting", "running", "held"].includes(this.phase);
  }

  get right() {
    return this.state ? this.state.you.right : "watch";
  }

  // A scribe's keys at the laptop, which say what is marked in matches.
  get scribe() {
    return this.state ? this.state.status.scribe : [];
  }

  // Whether people are asked something after a match, and the answers are on this board.
  get answers() {
    return this.phase === "over" && this.state.can.some(({ action }) => action.startsWith("plan."));
  }

  // What somebody has to do before anything can start: at the laptop, where this board has no button for it. After the
  // end the button says it itself.
  get ask() {
    const { ask } = this.state.status;
    const starts = this.offer("start");
    const here = starts !== null || this.state.can.some(({ action }) => action.startsWith("plan."));
    if (this.phase === "over") {
      return starts && starts.does === ask ? "" : this._there(ask, here);
    }
    return this.phase === "standby" ? this._there(ask, here) : ask;
  }

  // What is asked, with the place where it is done.
  _there(ask, here) {
    return ask && !here ? tr("At the laptop: {what}", { what: ask }) : ask;
  }

  // Take the plan of the run that is played: its document.
  play(plan) {
    this.timeline = new Timeline({ ...plan, firings: plan.firings.filter(({ cue }) => cue !== COUNT_IN) });
    this._place();
  }

  hear(state) {
    this.state = state;
    this._place();
  }

  // Whether an action may be wished, as the laptop said last: its offer, or null.
  offer(action) {
    const found = (this.state ? this.state.can : []).find((one) => one.action === action);
    return found || (action === "undo" && this._staysOutside ? { action } : null);
  }

  // Whether the laptop has said that people stay outside, before any result: it takes marks and takes them back.
  get _staysOutside() {
    return this.phase === "over" && this.state.status.outside_until_ns !== null && this.state.can.some(isMark);
  }

  // What the words are made of; `keys` are the buttons of this board in the place of the laptop's keys.
  status(keys) {
    const { status } = this.state;
    return {
      phase: status.phase, origins: this._origins, heldNs: status.held_ns, variant: status.variant,
      given: status.given, shows: status.shows, sign: status.sign, ofMatch: status.of_match, begins: status.begins,
      behindNs: status.behind_ns, clearUntilNs: status.clear_until_ns, outsideUntilNs: status.outside_until_ns,
      keepsOut: status.keeps_out, ask: this.ask, hasResult: status.result.length > 0, keys,
      start: { by: status.start.by, countInNs: status.start.count_in_ns }, earlyMs: status.early_ms,
      typed: status.typed,
    };
  }

  // When the clock began or begins, null in standby.
  get beginsNs() {
    const origins = this._origins;
    return origins && origins.known.has(MATCH) ? beginsNs(this.state.status, origins.known) : null;
  }

  get firingOrigins() {
    return FIRING.includes(this.phase) && this._origins ? [...this._origins.known.values()] : [];
  }

  get variant() {
    return this.state.status.variant || this.timeline.defaultVariant;
  }

  _place() {
    if (!this.state || !this.timeline) {
      return;
    }
    const { run, status } = this.state;
    const fired = JSON.stringify([run, status.phase, status.origins, status.variant, status.given]);
    this._origins = new Origins(this.timeline);
    status.origins.forEach((one) => this._origins.known.set(one.anchor, originOf(one)));
    this.changed = this.changed || fired !== this._fired;
    this._fired = fired;
  }
}

function originOf(one) {
  return {
    anchor: one.anchor, originNs: one.origin_ns, rate: one.rate, instance: one.instance, sentNs: one.sent_ns,
    startsNs: one.starts_ns,
  };
}
