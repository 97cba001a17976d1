// Puts the parts of a board together: hears the laptop, draws, fires cues by its own clock, and asks for what people
// press.

const LONGEST_WAIT_MS = 250;
const TOLD_MS = 6000;                      // so long a sentence stands
const QUIET_MS = 6000;                     // so long nothing is said of a line that is cut
const WIDE_MS = 500;                       // a ± from which people should know it
const COUNT_IN = "count_in";
const BLANK = "–:––";
const NOBODY = "nobody";                   // whose cues shake a phone that shakes for none
const CARD_LINES = 8;
const BOARD_ROWS = {
  heading: { size: 0.036, most: 2, line: 1.25 },
  title: { size: 0.1, most: 2, line: 1.1 },
  word: { size: 0.25 / CAP, most: 2, line: 0.86 },
  digits: { size: 0.5, most: 1, line: 0.9 },
  cueDigits: { size: 0.2, most: 1, line: 1 },
  sign0: { size: 0.25, most: 2, line: 1.05 },
  sign1: { size: 0.11, most: 3, line: 1.15 },
  typed: { size: 0.14, most: 1, line: 1.15 },
  ...Object.fromEntries(lines("card").map((id, n) => [id, { size: n ? 0.055 : 0.085, most: 3, line: 1.25 }])),
  ...Object.fromEntries(lines("result").map((id, n) => [id, { size: n ? 0.055 : 0.085, most: 3, line: 1.25 }])),
  outside: { size: 0.06, most: 2, line: 1.25 },
  video: { size: 0.045, most: 3, line: 1.25 },
  prompt: { size: 0.08, most: 3, line: 1.15 },
  clear: { size: 0.075, most: 2, line: 1.2 },
  windows: { size: 0.075, most: 2, line: 1.2 },
  ahead0: { size: 0.08, most: 2, line: 1.25 },
  ahead1: { size: 0.055, most: 2, line: 1.3 },
  context: { size: 0.055, most: 2, line: 1.3 },
  notice: { size: 0.05, most: 3, line: 1.25 },
};

// A phone has no pads that it may shake: they are the laptop's.
const NO_PADS = { begin: () => "absent", end() {}, stop() {}, step() {}, nextNs: () => null };

class Board {
  constructor(root) {
    this._find = (selector) => root.querySelector(selector);
    this._storage = keptOrNot();
    this.rights = new Rights(this._storage);
    this.line = new Line(() => this.rights.headers, (kind, data) => this._hear(kind, data), (is) => this._turned(is));
    const ask = (...what) => this.line.ask(...what);
    const exchange = () => (this.line.is === "open" ? ask("POST", "api/1/clock", {}) : Promise.reject(new Refusal(0, "")));
    this.clock = new KeeperClock(exchange, () => { this.mirror.changed = true; });
    this.mirror = new Mirror();
    this.wishes = new Wishes(ask, (text) => this._tell(text), this._storage, () => this.clock.errorNs);
    this.devices = devicesOf();
    this.channels = null;
    this._presses = new Presses((...what) => this.act(...what), (...what) => this._mark(...what));
    this._buttons = new Buttons(root);
    this._plan = { of: "", asks: false, state: null };
    this._told = { text: "", ms: -Infinity };
    this._timer = 0;
    this._match = "";
    rowsInto(this._find("#plate"));
    this._view = new View(root, BOARD_ROWS, () => this._unit());
    this._settings();
    this._listen();
  }

  async begin() {
    this._phone(this._storage.getItem("tocsin.board.entered") !== location.href);
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
    const own = { phone: () => this._phone(this._find("#phone").hidden), enter: () => this._enter(), more: () => this._more() };
    if (own[action]) {
      own[action]();
      return;
    }
    const offer = this.mirror.offer(action);
    if (action === "undo" && this._takenBack()) {
      return;
    }
    if (offer && this._buttons.counts(offer, performance.now())) {
      this.wishes.wish(this.mirror.run, action, atNs, offer.sure);
      if (!["earlier", "later"].includes(action)) {
        this._buttons.more = false;
      }
    }
    this.tick();
  }

  // Do all that is due, draw, and come again in time. Called by timers, by each frame and after each action.
  tick() {
    this.clock.look();
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
    if (this._counts(nowNs)) {
      this.devices.tones.prepare(beatTones(this._beatNs()), nowNs);
    }
  }

  // Whether this phone beats a count-in.
  _counts() {
    const { status } = this.mirror.state;
    return this.clock.known && status.start.by === COUNT_IN && this.mirror.phase === "waiting" && this._beatNs() !== null;
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
      this._tell(tr("Taken back before it was sent: {label}", { label: markWord(label) }));
    }
    return label !== "";
  }

  _more() {
    this._buttons.more = !this._buttons.more;
  }

  _draw(nowNs) {
    const ms = performance.now();
    const held = new Map([...this._presses.down.values()].map(({ label, beginNs }) => [label, (nowNs - beginNs) / NS_PER_S]));
    this._buttons.show(this.mirror, this.wishes, held, ms);
    this._worst(ms);
    if (!this.channels) {
      this._view.show({ title: this.rights.token ? tr("Looking for the laptop") : tr("Tocsin board"), digits: BLANK }, null, WHITE, false, nowNs);
      return;
    }
    const viewModel = this._viewModel(nowNs);
    const showing = this.channels.showing();
    const texts = showing ? cueTexts(viewModel, showing.shot) : textsOf(viewModel, this.mirror);
    const letters = showing ? readable(showing.pattern.letters) : WHITE;
    this._view.show(texts, this._look(showing, nowNs), letters, viewModel.moving, nowNs);
  }

  // The words at `nowNs`; where this phone does not know the time, those that the laptop said last, without digits.
  _viewModel(nowNs) {
    const { view, status } = this.mirror.state;
    if (this.clock.known || ["standby", "scrapped", "held"].includes(status.phase)) {
      const keys = this.mirror.state.can.map((offer) => ({ action: offer.action === "resume" ? "hold" : offer.action, key: wordOf(offer) }));
      return this._maker.at(this.mirror.status(keys), nowNs);
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
    const told = !bad && ms - this._told.ms < TOLD_MS ? this._told.text : "";
    this._write("#worst", bad || told || this._wrong());
    this._find("#worst").classList.toggle("bad", bad !== "");
    this._find("#worst").classList.toggle("told", told !== "");
  }

  _bad(ms) {
    const { line, rights, wishes } = this;
    if (!rights.token) {
      return tr("Scan the code on the laptop’s screen with this phone’s camera");
    }
    if (line.is === "refused") {
      return tr("The laptop does not know this phone any more: scan the code again");
    }
    const silentMs = ms - line.heardMs;
    if (line.is !== "open" && silentMs > QUIET_MS) {
      const count = Math.floor(silentMs / 1000);
      const waits = wishes.marks.length;
      if (!Number.isFinite(count)) {
        return tr("No laptop answers: are both in the same network?");
      }
      const unheard = tr("! Not heard for {count} s: this clock runs by itself", { count });
      return waits ? unheard + ". " + trn("{count} mark waits", "{count} marks wait", waits) : unheard;
    }
    return this.channels && !this.clock.known ? tr("! Setting this phone’s clock") : "";
  }

  _wrong() {
    if (!this.mirror.state) {
      return "";
    }
    const { view, status } = this.mirror.state;
    if (view.alarms.length) {
      return "! " + view.alarms.map(({ what }) => what).join(", ");
    }
    const waits = this.wishes.marks.length;
    if (waits && !this.wishes.sending) {
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
      watch: tr("It watches."), mark: tr("It may mark."), steer: tr("It may mark, start and hold."),
    };
    this._write("#who", state ? tr("This is board {number}.", { number: state.you.number }) + " " + may[state.you.right] : "");
    this._write("#awake", this.devices.awake.present ? "" : tr("This phone will darken by itself: set its screen to stay on."));
    this._find("#phone-title").focus();
  }

  _enter() {
    this._phone(false);
    this._storage.setItem("tocsin.board.entered", location.href);
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

function lines(what) {
  return Array.from({ length: CARD_LINES }, (_, n) => what + n);
}

function rowsInto(plate) {
  for (const id of Object.keys(BOARD_ROWS)) {
    const row = document.createElement({ heading: "h1", title: "h2", digits: "div", cueDigits: "div" }[id] || "p");
    row.id = id;
    row.hidden = true;
    if (row.tagName === "DIV") {
      row.setAttribute("role", "timer");
      row.setAttribute("aria-label", tr("Left"));
    }
    plate.append(row);
  }
}

// The rows of the plate while no cue shows.
function textsOf(viewModel, { state, timeline }) {
  const { view, status } = state;
  const standby = viewModel.stage === "standby";
  const card = standby ? status.card : [];
  const result = viewModel.stage === "over" && viewModel.tells ? status.result : [];
  const digits = card.length || result.length ? "" : viewModel.digits;
  const name = timeline.variants.length ? (status.variant || timeline.defaultVariant).replace(/_/g, " ") : "";
  const texts = {
    heading: [view.heading, ...(name ? [tr("variant {name}", { name })] : [])].join("  ·  "),
    title: card.length && viewModel.digits ? viewModel.title + "  ·  " + viewModel.digits : viewModel.title,
    [viewModel.stage === "match" ? "digits" : "cueDigits"]: digits,
    sign0: viewModel.sign[0],
    sign1: viewModel.sign[1],
    typed: status.typed ? tr("Display  {typed}", { typed: status.typed }) : "",
    outside: viewModel.outside,
    video: result.length ? status.video : "",
    prompt: viewModel.prompt,
    clear: viewModel.clear,
    windows: viewModel.windows.join("  ·  "),
    ahead0: viewModel.ahead[0],
    ahead1: viewModel.ahead[1],
    notice: status.notice,
  };
  card.forEach((line, n) => { texts["card" + n] = line; });
  result.forEach((line, n) => { texts["result" + n] = line; });
  return texts;
}

function devicesOf() {
  return {
    tones: new Tones(newAudio), vibrator: new Vibrator(vibratesOf()), awake: new Awake(navigator.wakeLock || null),
  };
}

const board = new Board(document);
board.begin();
