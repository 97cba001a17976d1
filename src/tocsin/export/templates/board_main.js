// Puts the parts of a board together: hears the laptop, draws, fires cues by its own clock, and asks for what people
// press.

const LONGEST_WAIT_MS = 250;
const TOLD_MS = 6000;                      // so long a sentence stands
const QUIET_MS = 6000;                     // so long nothing is said of a line that is cut
const WIDE_MS = 500;                       // a ± from which people should know it
const COUNT_IN = "count_in";
const BLANK = "–:––";
const NOBODY = "nobody";                   // whose cues shake a phone that shakes for none
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
    this._told = { text: "", ms: -Infinity };
    this._timer = 0;
    this._sentMs = 0;
    this._match = "";
    rowsInto(this._find("#plate"));
    this._view = new View(root, BOARD_ROWS, () => this._unit());
    this._result = new ResultView(root);
    this._settings();
    this._listen();
  }

  async begin() {
    this._phone(!(history.state && history.state.entered));        // a page that is loaded anew in a match goes on
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
    const own = {
      phone: () => this._phone(this._find("#phone").hidden), enter: () => this._enter(), more: () => this._more(),
    };
    if (own[action]) {
      own[action]();
      return;
    }
    const offer = this.mirror.offer(action);
    if (action === "undo" && this._takenBack()) {
      return;
    }
    if (this._buttons.slipped(action, performance.now())) {
      this._tell(tr("Twice in a hurry? Press once more"));
    } else if (offer && this._buttons.counts(offer, performance.now())) {
      if (this.clock.known) {
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

  // Do all that is due, draw, and come again in time. Called by timers, by each frame and after each action.
  tick() {
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
      this.tick();
      this._drawLoop();
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
      this.mirror.hear(state);
      this._document = plan;
      this.mirror.play(plan);
      this._maker = new ViewModelMaker(this.mirror.timeline);
      const record = { firing() {} };
      const devices = { ...this.devices, pads: NO_PADS };
      this.channels = new Channels(plan, this.mirror.timeline, devices, record, (word) => this._say(word));
      this.channels.shakesFor = this._find("#shake").checked ? "" : NOBODY;
      this._match = "";
    } catch (refusal) {
      await new Promise((done) => { setTimeout(done, LONGEST_WAIT_MS); });
    }
    this._plan.asks = false;
    if (this.line.is === "open") {
      this._adopt();
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
    this.wishes.mark(this.mirror.run, label, beginNs, endNs);
    this.tick();
  }

  _takenBack() {
    const label = this.wishes.takeBack();
    if (label) {
      this._tell(tr("Taken back before it was sent: {label}", { label: capital(label.replace(/_/g, " ")) }));
    }
    return label !== "";
  }

  _more() {
    this._buttons.more = !this._buttons.more;
  }

  _draw(nowNs) {
    const ms = performance.now();
    const down = [...this._presses.down.values()];
    this._buttons.show(this.mirror, new Map(down.map((one) => [one.label, (nowNs - one.beginNs) / NS_PER_S])), ms);
    this._worst(ms);
    if (!this.channels) {
      const title = this.rights.token ? tr("Looking for the laptop") : tr("Tocsin board");
      this._view.show({ title, digits: BLANK }, null, WHITE, false, nowNs);
      return;
    }
    const viewModel = this._viewModel(nowNs);
    const showing = this.channels.showing();
    const picture = showing || viewModel.stage !== "over" || !viewModel.tells ? null : this.mirror.state.status.picture;
    const texts = showing ? cueTexts(viewModel, showing.shot) : textsOf(viewModel, this.mirror);
    this._find("#plate").hidden = picture !== null;
    const { outside, prompt, notice } = texts;
    this._result.show(picture, { outside, prompt, notice, video: this.mirror.state.status.video });
    const letters = showing ? readable(showing.pattern.letters) : WHITE;
    this._view.show(picture ? {} : texts, this._look(showing, nowNs), letters, viewModel.moving, nowNs);
  }

  // The words at `nowNs`; where this phone does not know the time, those that the laptop said last, without digits.
  _viewModel(nowNs) {
    const { view, status } = this.mirror.state;
    if (this.clock.known || ["standby", "scrapped", "held"].includes(status.phase)) {
      return this._maker.at(this.mirror.status(keysOf(this.mirror)), nowNs);
    }
    const digits = view.digits && status.phase !== "over" ? BLANK : view.digits;
    return {
      ...view, stage: status.phase === "over" ? "over" : "match", digits, moving: false, ahead: [], prompt: status.ask,
      tells: view.result.length > 0 || view.picture !== null,
    };
  }

  _look(showing, nowNs) {
    const still = matches("(prefers-reduced-motion: reduce)");
    if (showing) {
      return lookOf(showing.shot, showing.pattern, showing.count, nowNs, still);
    }
    return this._counts() ? beatLook(nowNs - this._beatNs(), still) : null;
  }

  // The one line: what was just said, else the worst thing that people should know.
  _worst(ms) {
    const bad = this._bad(ms);
    const stands = this.mirror.state && this.mirror.state.status.notice === this._told.text;    // on the plate
    const told = !bad && !stands && ms - this._told.ms < TOLD_MS ? this._told.text : "";
    this._write("#worst", bad || told || this._wrong());
    this._find("#worst").classList.toggle("bad", bad !== "");
    this._find("#worst").classList.toggle("told", told !== "");
  }

  _bad(ms) {
    const { line, rights } = this;
    if (!rights.token) {
      return tr("Scan the code on the laptop’s screen with this phone’s camera");
    }
    if (line.is === "refused") {
      return tr("The laptop does not know this phone any more: scan the code again");
    }
    const silentMs = ms - line.heardMs;
    if (line.is !== "open" && silentMs > QUIET_MS) {
      return Number.isFinite(silentMs) ? this._unheard(silentMs) : tr("No laptop answers: are both in one network?");
    }
    if (this.channels && !this.clock.known) {
      return tr("! Setting this phone’s clock");
    }
    const alarms = this.mirror.state ? this.mirror.state.view.alarms : [];
    return alarms.length ? "! " + alarms.map(({ what, fix }) => (fix ? what + ": " + fix : what)).join(", ") : "";
  }

  _unheard(silentMs) {
    const said = tr("! Not heard for {count} s: this clock runs by itself", { count: Math.floor(silentMs / 1000) });
    const waits = this.wishes.marks.length;
    return waits ? said + ". " + trn("{count} mark waits", "{count} marks wait", waits) : said;
  }

  _wrong() {
    if (!this.mirror.state) {
      return "";
    }
    const { status } = this.mirror.state;
    const waits = this.wishes.marks.length;
    if (waits && this.line.is !== "open") {
      return trn("{count} mark waits", "{count} marks wait", waits);
    }
    const ms = (status.error_ms || 0) + (this.clock.errorNs || 0) / NS_PER_MS;
    return ms > WIDE_MS ? tr("clock ± {error} s", { error: (ms / 1000).toFixed(1) }) : "";
  }

  _tell(text) {
    if (text) {
      this._told = { text, ms: performance.now() };
    }
  }

  _unit() {
    const stage = this._find("#stage");
    return unitFor(stage.clientWidth, stage.clientHeight);
  }

  // The page about this phone, which also stands at the very begin: a tap lets sound in, and the whole screen.
  _phone(shows) {
    this._find("#phone").hidden = !shows;
    this._find("#line [data-act=phone]").setAttribute("aria-expanded", String(shows));
    if (!shows) {
      return;
    }
    const { state } = this.mirror;
    const may = {
      watch: tr("This is board {number}. It watches.", state && state.you),
      mark: tr("This is board {number}. It may mark.", state && state.you),
      steer: tr("This is board {number}. It may mark, start, hold and cancel.", state && state.you),
    };
    const darkens = tr("This phone will darken by itself: set its screen to stay on.");
    this._write("#who", state ? may[state.you.right] : "");
    this._write("#awake", this.devices.awake.present ? "" : darkens);
    this._find("#phone-title").focus();
  }

  _enter() {
    this._phone(false);
    history.replaceState({ entered: true }, "");
    this._wake();
    const root = document.documentElement;
    if (root.requestFullscreen && matches("(pointer: coarse)")) {
      root.requestFullscreen().catch(() => {});
    }
    this._view.stale();
  }

  _wake() {
    this.devices.awake.keep();
    if (this._find("#sound").checked) {
      this.devices.tones.wake();
    }
  }

  _settings() {
    const { tones, vibrator } = this.devices;
    this._find("#shakes").hidden = !vibrator.present;
    const setting = (id, first, does) => {
      const box = this._find("#" + id);
      const name = "tocsin.board." + id;
      box.checked = (this._storage.getItem(name) || first) === "yes";
      box.addEventListener("change", () => {
        this._storage.setItem(name, box.checked ? "yes" : "no");
        does(box.checked);
      });
      does(box.checked);
    };
    setting("sound", "no", (on) => {
      tones.setVolume(tones.volume, !on);
      this._wake();
    });
    setting("shake", "yes", (on) => {
      if (this.channels) {
        this.channels.shakesFor = on ? "" : NOBODY;
      }
    });
    setting("mirrored", "no", (on) => {
      this._find("#board").classList.toggle("mirrored", on);
    });
  }

  // Say a word to those who listen to the page instead of looking at it.
  _say(word) {
    this._write("#said", "");
    this._write("#said", word);
  }

  _write(selector, text) {
    const element = this._find(selector);
    if (element.textContent !== text) {
      element.textContent = text;
    }
  }

  _listen() {
    document.addEventListener("pointerdown", () => this._wake(), true);
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
