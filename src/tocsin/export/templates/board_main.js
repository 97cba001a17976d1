// Puts the parts of a board together: hears the laptop, draws, fires cues by its own clock, and asks for what people
// press.

const LONGEST_WAIT_MS = 250;
const COUNT_IN = "count_in";
const BLANK = "–:––";
const TAKING = tr("taking back");
const BEAT_IN_SUN = [0, 114, 178];         // of the count-in: yellow would not be seen on white
// A phone has no pads that it may shake: they are the laptop's.
const NO_PADS = { begin: () => "absent", end() {}, stop() {}, step() {}, nextNs: () => null };

class Board {
  constructor(root) {
    this._find = (selector) => root.querySelector(selector);
    this._storage = keptOrNot();
    this.rights = new Rights(this._storage);
    this.line = new Line(() => this.rights.headers, (kind, data) => this._hear(kind, data), (is) => this._turned(is));
    const ask = (...what) => this.line.ask(...what);
    const exchange = async () => {
      if (this.line.is !== "open") {
        throw new Refusal(0, "");
      }
      return ask("POST", "api/1/clock", {});
    };
    this.clock = new KeeperClock(exchange, (shiftNs) => {
      this.mirror.changed = true;
      this.wishes.settle(shiftNs);
    });
    this.mirror = new Mirror();
    this.wishes = new Wishes(ask, (text) => this._tell(text), this._storage, () => this.clock.errorNs);
    this.devices = devicesOf();
    this.channels = null;
    this._presses = new Presses((...what) => this.act(...what), (...what) => this._mark(...what));
    this._buttons = new Buttons(root);
    this._plan = { of: "", asks: false, state: null };
    this._timer = 0;
    this._sentMs = 0;
    this._failed = false;
    this._match = "";
    rowsInto(this._find("#plate"));
    this._view = new View(root, BOARD_ROWS, () => this._unit(), () => (this._phone && this._phone.light ? WHITE : DARK));
    this._result = new ResultView(root);
    this._said = new SaidLine(root, this);
    this._phone = new PhonePage(root, this.devices, this._storage, () => this._changed());
    this._listen();
  }

  async begin() {
    await this._claim();
    if (this.rights.token) {
      this.line.open();
      this.clock.anew(true);
    }
    this._drawLoop();
    this.tick();
  }

  // Carry out what a button asks for; it was pressed at `atNs`.
  act(action, atNs) {
    this._buttons.touchedAt(performance.now());
    const own = {
      phone: () => this._phone.show(!this._phone.shows), enter: () => this._phone.enter(), more: () => this._more(),
      look: () => this._phone.flip(performance.now()),
    };
    if (own[action]) {
      own[action]();
      return;
    }
    const offer = this.mirror.offer(action);
    const back = action === "undo" && this.wishes.takeBack();
    if (back) {
      this._takenBack(back);
      this.tick();
      return;
    }
    const slipped = this._buttons.slipped(action, performance.now());
    if (slipped) {
      this._tell(tr("Not taken: it has just come here. Press again: {what}", { what: slipped }));
    } else if (offer && this._buttons.counts(offer, performance.now())) {
      if (this.clock.known) {
        if (action === "undo") {
          this._buttons.undoneAt(TAKING, performance.now());
        }
        this.wishes.wish(this.mirror.run, action, atNs, offer.sure);
      } else {
        this._tell(tr("Not taken: this phone’s clock is not set yet. Press again in a moment"));
      }
      if (!["earlier", "later"].includes(action)) {
        this._buttons.more = false;
      }
    }
    this.tick();
  }

  // Do all that is due, draw, and come again in time. Called by timers, by each frame and after each action. Should this
  // page have a fault it shows no digits that stand still.
  tick() {
    try {
      this._tick();
    } catch (error) {
      this._find("#round").hidden = true;
      this._find("#plate").textContent = BLANK;
      setText(this._find("#worst"), tr("This page has a fault: load it again, and look at the laptop"));
      if (!this._failed) {
        this._failed = true;
        setTimeout(() => { throw error; });            // for whoever looks into it
      }
    }
  }

  _tick() {
    this.clock.look();
    if (this.line.is === "open" && performance.now() - this._sentMs > EACH_MS / 5) {
      this._sentMs = performance.now();
      this.wishes.send();
    }
    const nowNs = nowNanos();
    if (this.channels) {
      this._place(nowNs);
      this.channels.tick(nowNs);
    }
    this._draw(nowNs);
    const dueNs = this.channels ? this.channels.nextNs() : null;
    const waitMs = dueNs === null ? LONGEST_WAIT_MS : (dueNs - nowNanos()) / NS_PER_MS;
    clearTimeout(this._timer);
    this._timer = setTimeout(() => this.tick(), Math.min(LONGEST_WAIT_MS, Math.max(0, waitMs)));
  }

  _drawLoop() {
    requestAnimationFrame(() => {
      this._drawLoop();
      this.tick();
    });
  }

  // Tell the channels the origins that hold; none while this phone does not know the time.
  _place(nowNs) {
    const { mirror } = this;
    const match = mirror.run + (mirror.phase === "standby" || mirror.phase === "scrapped" ? " standby" : "");
    if (match !== this._match) {
      this._match = match;
      this.channels.anew();
      mirror.changed = true;
    }
    if (mirror.changed) {
      mirror.changed = false;
      const origins = this.clock.known ? mirror.firingOrigins : [];
      this.channels.setOrigins(origins, mirror.variant, mirror.state.status.given, nowNs);
    }
    if (this._counts()) {
      this.devices.tones.prepare(beatTones(this._beatNs()), nowNs);
    }
  }

  // Whether this phone beats a count-in.
  _counts() {
    const { status } = this.mirror.state;
    const counts = status.start.by === COUNT_IN && this.mirror.phase === "waiting";
    return counts && this.clock.known && this._beatNs() !== null;
  }

  _beatNs() {
    const { beginsNs: atNs, state } = this.mirror;
    return atNs === null ? null : atNs - state.status.behind_ns;
  }

  _hear(kind, data) {
    if (kind !== "state") {
      return;                              // records are for other programs
    }
    this._plan.state = JSON.parse(data);
    this._adopt();
  }

  // Take the newest state, with the plan of its run.
  async _adopt() {
    const { state } = this._plan;
    const of = JSON.stringify([state.run, state.status.plan_no, state.view.heading]);
    if (of === this._plan.of) {
      this._leaveMarks(state);
      this.mirror.hear(state);
      this._turnedRight();
      return;
    }
    if (this._plan.asks) {
      return;
    }
    this._plan.asks = true;
    try {
      const plan = await this.line.ask("GET", "api/1/plan");
      this._plan.of = of;
      this._leaveMarks(state);
      this.mirror.hear(state);
      this._document = plan;
      this.mirror.play(plan);
      this._maker = new ViewModelMaker(this.mirror.timeline);
      const record = { firing() {} };
      const devices = { ...this.devices, pads: NO_PADS };
      this.channels = new Channels(plan, this.mirror.timeline, devices, record, (word) => this._say(word));
      this.channels.shakesFor = this._phone.shakesFor;
      this._match = "";
    } catch (refusal) {
      await new Promise((done) => { setTimeout(done, LONGEST_WAIT_MS); });
    }
    this._plan.asks = false;
    if (this.line.is === "open") {
      this._adopt();
    }
  }

  // Leave marks open whose fingers are down as a match ends: they are this match's, and who knows their end.
  _leaveMarks({ run, status }) {
    if (run !== this.mirror.run || (status.phase === "over" && this.mirror.phase !== "over")) {
      this._presses.releaseAll();
    }
  }

  // The line has become open, cut or refused.
  _turned(is) {
    if (is === "open") {
      this.clock.anew(false);
      this.wishes.send();
    }
  }

  _turnedRight() {
    const acts = this.mirror.right !== "watch";
    this._find("#zone").hidden = !acts;
    this._find("#board").classList.toggle("acts", acts);
  }

  async _claim() {
    const refused = await this.rights.claim((...what) => this.line.ask(...what));
    if (refused) {
      this._tell(refused);
    }
  }

  _mark(label, beginNs, endNs) {
    this._buttons.markedAt(label, beginNs, performance.now());
    this.wishes.mark(this.mirror.run, label, beginNs, endNs);
    this.tick();
  }

  // A mark that waits here was taken back, or will be once the laptop has answered.
  _takenBack({ label, gone }) {
    this._buttons.undoneAt(gone ? tr("taken back") : TAKING, performance.now());
    if (gone) {
      this._tell(tr("Taken back before it was sent: {label}", { label: capital(label.replace(/_/g, " ")) }));
    }
  }

  _more() {
    this._buttons.toggleMore(performance.now());
  }

  _draw(nowNs) {
    const ms = performance.now();
    const down = [...this._presses.down.values()];
    const held = new Map(down.map((one) => [one.label, (nowNs - one.beginNs) / NS_PER_S]));
    this._buttons.show(this.mirror, held, {
      ms, cue: Boolean(this.channels && this.channels.showing()), unheard: this.line.unheard(ms),
      waits: this.wishes.marks.length > 0 && (this.line.late || this.line.is !== "open" || !this.clock.known),
    });
    this._said.show(ms, this._buttons.question(ms));
    this._phone.tell(this.mirror);
    if (!this.channels) {
      const title = this.rights.token ? tr("Looking for the laptop") : tr("Tocsin board");
      this._view.show({ title, digits: BLANK }, null, WHITE, false, nowNs);
      return;
    }
    const viewModel = this._viewModel(nowNs);
    const showing = this.channels.showing();
    const { away, state: { status } } = this.mirror;
    const picture = showing || viewModel.stage !== "over" || !viewModel.tells ? null : status.picture;
    const texts = showing ? cueTexts(viewModel, showing.shot)
      : away && !this.mirror.runs ? awayTexts(viewModel, this.mirror) : textsOf(viewModel, this.mirror);
    if (showing && this.mirror.right === "watch") {    // drivers in waiting learn it as it is; others read whose it is
      texts.context = tr("for the drivers");
    }
    this._find("#plate").hidden = picture !== null;
    const { outside, prompt, notice } = texts;
    this._result.show(picture, { outside, prompt, notice, video: forPhone(status.video) });
    const letters = showing ? readable(showing.pattern.letters) : WHITE;
    this._view.show(picture ? {} : texts, this._look(showing, nowNs), letters, viewModel.moving, nowNs);
  }

  // The words at `nowNs`; where this phone does not know the time, those that the laptop said last, without digits.
  _viewModel(nowNs) {
    const { view, status } = this.mirror.state;
    if (this.clock.known || ["standby", "scrapped", "held"].includes(status.phase)) {
      const said = this.mirror.status(keysOf(this.mirror));
      const found = this._maker.at(said, nowNs);
      // That the match is over nobody has told: the laptop is out of reach. A robot may still move.
      const alone = found.stage === "over" && status.phase !== "over" && status.keeps_out;
      return alone ? this._maker.at({ ...said, phase: "over", outsideUntilNs: Infinity }, nowNs) : found;
    }
    const digits = view.digits && status.phase !== "over" ? BLANK : view.digits;
    return {
      ...view, stage: status.phase === "over" ? "over" : "match", digits, moving: false, ahead: [], prompt: this.mirror.ask,
      tells: view.result.length > 0 || view.picture !== null,
    };
  }

  _look(showing, nowNs) {
    const still = matches("(prefers-reduced-motion: reduce)");
    if (showing) {
      return lookOf(showing.shot, showing.pattern, showing.count, nowNs, still);
    }
    const beat = this._counts() ? beatLook(nowNs - this._beatNs(), still) : null;
    return beat && this._phone.light ? { ...beat, colours: all(BEAT_IN_SUN), stays: true } : beat;
  }

  _unit() {
    const stage = this._find("#stage");
    return unitFor(stage.clientWidth, stage.clientHeight);
  }

  // Say a word to those who listen to the page instead of looking at it.
  _say(word) {
    setText(this._find("#said"), "");
    setText(this._find("#said"), word);
  }

  _tell(text) {
    this._said.tell(text);
  }

  _changed() {
    this._view.stale();
    if (this.channels) {
      this.channels.shakesFor = this._phone.shakesFor;
    }
  }

  _listen() {
    document.addEventListener("pointerdown", () => this._phone.wake(), true);
    this._find("#more").addEventListener("pointerdown", () => this._buttons.touchedAt(performance.now()));
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") {
        this._back();
      } else {
        this._presses.releaseAll();
      }
    });
    document.addEventListener("resume", () => this._back());
    window.addEventListener("online", () => this._again());
    window.addEventListener("pagehide", () => this.line.letGo());
    window.addEventListener("pageshow", (event) => {
      if (event.persisted) {
        this._back();
      }
    });
    window.addEventListener("resize", () => this._view.stale());
    window.addEventListener("hashchange", async () => {
      if (this.rights.read()) {
        await this._claim();
        this._again();
      }
    });
  }

  // This page was away: its clock may be wrong, its line dead.
  _back() {
    this.devices.awake.keep();
    this.clock.anew(true);
    this._again();
    this.tick();
  }

  _again() {
    if (this.rights.token) {
      this.line.anew();
    }
  }
}

// The buttons of this board, in the place of the laptop's keys. After the end the next step says itself what it is.
function keysOf({ state, phase }) {
  const named = state.can.filter(({ action }) => action !== "start" || phase === "standby");
  return named.map((offer) => ({ action: offer.action === "resume" ? "hold" : offer.action, key: wordOf(offer) }));
}

function devicesOf() {
  return {
    tones: new Tones(newAudio), vibrator: new Vibrator(vibratesOf()), awake: new Awake(navigator.wakeLock || null),
  };
}

const board = new Board(document);
board.begin();
