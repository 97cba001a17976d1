// Puts all parts together: reads the plan, carries out what people ask for, and keeps time.

const EARLY_PRESS_NS = 0.25 * NS_PER_S;    // a press on a signal comes late by about this (estimate from practice)
const LONGEST_WAIT_MS = 250;
const NOTICE_NS = 6 * NS_PER_S;
const CANCEL_NS = 2 * NS_PER_S;            // a second press within this cancels a match
const MORE_NS = 10 * NS_PER_S;             // so long all buttons stand there, not only those that are needed most

// No permission, and nobody's wait for one from here: who is at the stop says it.
const REMAIN_OUTSIDE = tr("Stay outside until the person at the robot's stop says so");
const GO_ON = tr("press Go on: the clock goes on");

class Page {
  constructor(plan, files, root) {
    this._root = root;
    this._plan = plan;
    this._find = (selector) => root.querySelector(selector);
    this.timeline = new Timeline(plan);
    const wish = wishOf(location.search, this.timeline);
    this._wish = wish;
    this.devices = devicesOf();
    this.record = new PageRecord(plan, storageOf(), "tocsin.page." + plan.plan.sha256.slice(0, 16), files);
    this.match = new Match(this.timeline, wish.at, wish.rate, this.record);
    this.channels = new Channels(plan, this.timeline, this.devices, this.record, (word) => this._say(word));
    this._maker = new ViewModelMaker(this.timeline);
    this._view = new View(root, ROWS, () => unitFor(window.innerWidth, window.innerHeight));
    this._standby = new Standby(root, this.devices, this.record);
    const calls = [...root.querySelectorAll("[data-act^='call.']")].map((button) => button.dataset.act.slice(5));
    this.controls = new Controls(calls, (...what) => this.act(...what), (...what) => this._mark(...what));
    this._notice = { text: wish.notice, untilNs: Infinity };
    this._nudgedNs = 0;
    this._cancelAskedNs = -Infinity;
    this._moreUntilNs = -Infinity;
    this._phase = "";
    this._showsMore = false;
    this._timer = 0;
    this._listen();
    this._setSound(this.devices.tones.volume, !this._find("#sound-on").checked);
  }

  begin() {
    this.devices.awake.keep();
    this._drawLoop();
    this.tick();
    if (this._wish.startsNow) {
      this.devices.tones.wake();
      const nowNs = nowNanos();
      this.match.start(nowNs, nowNs + LEAD_IN_NS, "itself");
    }
  }

  // Carry out an action that was asked for at `atNs`.
  act(action, atNs) {
    const nowNs = nowNanos();
    const { tones } = this.devices;
    this._wake();
    const [verb, what] = action.split(".");
    const doing = {
      start: () => this._pressStart(nowNs, atNs),
      scrap: () => this._cancel(nowNs),
      more: () => this._more(nowNs),
      hold: () => this.match.holdOrResume(nowNs),
      begin: () => this.match.beginPeriod(nowNs, atNs),
      earlier: () => this._nudge(nowNs, NUDGE_NS),
      later: () => this._nudge(nowNs, -NUDGE_NS),
      variant: () => this._nextVariant(nowNs),
      call: () => this.match.call(nowNs, what),
      mute: () => this._setSound(tones.volume, !tones.muted),
      try: () => this._try(nowNs),
      swap: () => this.devices.pads.swap(),
      save: () => this._save(),
      forget: () => this._forget(),
    };
    this._tellRefusal(doing[verb](), nowNs);
    if (this._showsMore && verb !== "more") {
      this._moreUntilNs = nowNs + MORE_NS;             // who uses them may need them again
    }
    this.tick();
  }

  // Do all that is due, draw, and come again in time. Called by timers, by each frame and after each action.
  tick() {
    const nowNs = nowNanos();
    const { came, start } = this.devices.pads.poll(this.match.phase === "standby");
    const wasOn = this.match.phase !== "standby";
    this.match.settle(nowNs);
    this._noteSleep(nowNs);
    if (this.match.phase === "over" && this.match.rungOut(nowNs) && !this._rungOut) {
      this._rungOut = true;
      this.match.changed = true;
    }
    if (this.match.changed) {
      this.match.changed = false;
      if (this.match.phase === "standby") {
        this._rungOut = false;
        this._nudgedNs = 0;
        this._cancelAskedNs = -Infinity;
        this._moreUntilNs = -Infinity;
        this.channels.anew();
      }
      this.channels.setOrigins(this.match.firingOrigins(nowNs), this.match.variant, this.match.given, nowNs);
    }
    this.channels.tick(nowNs);
    if (this.match.phase === "waiting" && this.match.countsFromNs !== null) {
      this.devices.tones.prepare(beatTones(this.match.startsNs), nowNs);
    }
    came.filter(() => wasOn).forEach((role) => this.channels.catchUp(role, nowNs));
    this.devices.pads.step(nowNs);
    this._draw(nowNs);
    this._comeAgain(nowNanos());
    if (start && this._find("#pad-starts").checked) {
      this.act("start", nowNs);
    }
  }

  _comeAgain(nowNs) {
    const dueNs = this.channels.nextNs();
    const waitMs = dueNs === null ? LONGEST_WAIT_MS : (dueNs - nowNs) / NS_PER_MS;
    clearTimeout(this._timer);
    this._timer = setTimeout(() => this.tick(), Math.min(LONGEST_WAIT_MS, Math.max(0, waitMs)));
  }

  _drawLoop() {
    requestAnimationFrame(() => {
      this.tick();
      this._drawLoop();
    });
  }

  _draw(nowNs) {
    const phase = this.match.phase;
    if (phase !== this._phase) {
      this._turn(phase, nowNs);
    } else if (this._showsMore !== nowNs < this._moreUntilNs) {
      this._showButtons(nowNs);
    }
    const notice = nowNs < this._notice.untilNs ? this._notice.text : "";
    this._write("#notice", phase === "standby" ? notice : "");
    if (phase === "standby") {
      this._standby.show();
      return;
    }
    this._write("#facts", notice || factsLine(this.devices));
    this._find("#facts").classList.toggle("told", notice !== "");
    const viewModel = this._maker.at({ ...PLAIN, ...this.match.status() }, nowNs);
    const title = viewModel.awaits;
    viewModel.prompt = title ? tr("{title}: press when it begins", { title }) : "";
    this._find("[data-act=begin]").hidden = viewModel.awaits === "";
    const showing = this.channels.showing();
    const texts = showing ? cueTexts(viewModel, showing.shot) : this._texts(viewModel);
    texts.alarm = alarmOf(this.devices.pads);
    const letters = showing ? readable(showing.pattern.letters) : WHITE;
    this._view.show(texts, this._look(showing, nowNs), letters, viewModel.moving, nowNs);
  }

  _look(showing, nowNs) {
    const still = matches("(prefers-reduced-motion: reduce)");
    if (showing) {
      return lookOf(showing.shot, showing.pattern, showing.count, nowNs, still);
    }
    const counts = this.match.countsFromNs !== null && this.match.heldNs === null && this.match.phase !== "over";
    return counts ? beatLook(nowNs - this.match.startsNs, still) : null;
  }

  _texts(viewModel) {
    const facts = [this._plan.game.name + " – " + this._plan.plan.name, ...this._heading()];
    const over = this.match.phase === "over";
    const result = over ? this.record.result() : [];
    return {
      heading: facts.join("  ·  "),
      title: viewModel.title,
      [over ? "cueDigits" : "digits"]: viewModel.digits,
      prompt: over ? REMAIN_OUTSIDE : this.match.phase === "held" ? GO_ON : viewModel.prompt,
      windows: viewModel.windows.join("  ·  "),
      ahead0: viewModel.ahead[0],
      ahead1: viewModel.ahead[1],
      result0: result[0],
      result1: result[1],
      result2: result[2],
    };
  }

  _heading() {
    const { rate } = this._wish;
    const rehearsal = rate === 1 ? [] : [tr("rehearsal × {rate}", { rate })];
    const variant = this._plan.game.variants.find((one) => one.id === this.match.variant);
    return [...(variant ? [variant.title] : []), ...rehearsal];
  }

  // Show what belongs to a phase that has just begun.
  _turn(phase, nowNs) {
    const standby = phase === "standby";
    const was = this._phase;
    this._phase = phase;
    document.body.dataset.phase = phase;
    this._find("#standby").hidden = !standby;
    this._find("#match").hidden = standby;
    this._find("[data-act=hold] span").textContent = phase === "held" ? tr("Go on") : tr("Hold");
    this._showButtons(nowNs);
    if (standby !== (was === "standby") && was !== "") {
      this._find(standby ? "#standby-title" : "#match").focus();
      window.scrollTo(0, 0);
    }
    if (standby && was !== "") {
      this._notice = { text: "", untilNs: -Infinity };        // it spoke of a match that is gone
    }
    if (phase === "over" || standby) {
      this.controls.releaseAll();
    }
    if (phase === "over") {
      this._say(tr("Match over"));
    }
  }

  // Show the buttons that mean something in this phase: those that are needed most, and the others while asked for.
  _showButtons(nowNs) {
    this._showsMore = nowNs < this._moreUntilNs;
    this._root.querySelectorAll("[data-in]").forEach((element) => {
      const out = "rest" in element.dataset && !this._showsMore;
      element.hidden = out || !element.dataset.in.split(" ").includes(this._phase);
    });
    const more = this._find("[data-act=more]");
    more.setAttribute("aria-expanded", String(this._showsMore));
    more.firstChild.data = (this._showsMore ? tr("Fewer") : tr("More")) + " ";
    this._view.stale();
  }

  _more(nowNs) {
    this._moreUntilNs = this._showsMore ? -Infinity : nowNs + MORE_NS;
    return "";
  }

  _pressStart(nowNs, atNs) {
    if (this.match.phase === "over") {
      return this.match.again();
    }
    if (this._find("#by-count-in").checked) {
      return this.match.start(nowNs, atNs + COUNT_IN_NS, "count_in");
    }
    return this.match.start(nowNs, atNs - EARLY_PRESS_NS, "press");
  }

  _nextVariant(nowNs) {
    const variants = this.timeline.variants;
    if (!variants.length) {
      return tr("this game has no variants");
    }
    return this._choose(variants[(variants.indexOf(this.match.variant) + 1) % variants.length], nowNs);
  }

  _choose(variant, nowNs) {
    const refused = this.match.choose(nowNs, variant);
    const button = this._find("input[name=variant][value='" + this.match.variant + "']");
    if (button) {
      button.checked = true;
    }
    return refused;
  }

  // Half a second on everything, one after another, for a person to confirm.
  _try(nowNs) {
    if (this.match.phase !== "standby") {
      return tr("devices are tried in standby only");
    }
    const { tones, pads, vibrator } = this.devices;
    const tone = { key: "try", pattern: TRY_TONE, lastsNs: TRY_TONE.steps[0].lasts_ns, priority: -1 };
    tones.wake().then(() => tones.set({ ...tone, beginNs: nowNanos() }, nowNanos()));
    pads.seats.forEach((seat, n) => pads.begin(seat.role, "try", TRY_PATTERN, nowNs + n * 0.75 * NS_PER_S, nowNs, -1));
    vibrator.begin("try " + nowNs, TRY_PATTERN, nowNs, nowNs, -1);
    return tr("each is tried for half a second, pad after pad: heard it? felt it?");
  }

  _nudge(nowNs, byNs) {
    if (["standby", "over"].includes(this.match.phase)) {
      return "";
    }
    const refused = this.match.nudge(nowNs, byNs);
    this._nudgedNs += refused ? 0 : byNs;
    const sum = (this._nudgedNs > 0 ? "+" : "") + (this._nudgedNs / NS_PER_S).toFixed(1);
    return refused || tr("clock corrected by {sum} s in all", { sum });
  }

  // A finger slips, and would take the calls that are still to come: it is asked for twice.
  _cancel(nowNs) {
    const on = ["waiting", "running", "held"].includes(this.match.phase);
    if (on && nowNs >= this._cancelAskedNs + CANCEL_NS) {
      this._cancelAskedNs = nowNs;
      return tr("press Cancel (x) again within 2 s to cancel");
    }
    this._cancelAskedNs = -Infinity;
    return this.match.scrap(nowNs);
  }

  _mark(label, beginNs, endNs, source) {
    const nowNs = nowNanos();
    this._wake();
    const matchNs = this.match.phase === "standby" ? null : this.match.reading(beginNs).matchNs;
    const refused = this.match.mark(nowNs, label, beginNs);
    const said = refused ? "" : this.record.mark(nowNs, label, beginNs, endNs, matchNs, source);
    this._tellRefusal(refused || tr("marked: {label}", { label: said }), nowNs);
  }

  _forget() {
    return window.confirm(tr("Forget all marks and signals that are kept here?")) ? this.record.forget() : "";
  }

  _save() {
    const wall = new Date().toISOString().slice(0, 16).replace(/[-:]/g, "").replace("T", "-");
    saveFile("tocsin-page-" + wall + ".jsonl", this.record.text());
  }

  _setSound(volume, muted) {
    this.devices.tones.setVolume(volume, muted);
    this._find("#sound-on").checked = !muted;
  }

  _wake() {
    this.devices.tones.wake();
    this.devices.awake.keep();
  }

  _noteSleep(nowNs) {
    const sleptNs = this.devices.awake.slept(nowNs, Date.now());
    if (sleptNs && !["standby", "over"].includes(this.match.phase)) {
      this.record.slept(nowNs, "the wall clock moved by " + (sleptNs / NS_PER_S).toFixed(1) + " s");
      const asks = tr("did this device sleep? compare the countdown with the official one: Clock on, Clock back");
      this._tellRefusal(asks, nowNs);
    }
  }

  _tellRefusal(text, nowNs) {
    if (text) {
      this._notice = { text, untilNs: nowNs + NOTICE_NS };
    }
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
    const changed = (id, does) => this._find(id).addEventListener("change", does);
    changed("#drives-robot", (event) => { this.controls.drivesRobot = event.target.checked; });
    changed("#sound-on", (event) => this._setSound(this.devices.tones.volume, !event.target.checked));
    this._find("#volume").addEventListener("input", (event) => this._setSound(event.target.value / 100, false));
    this._find("#shakes").hidden = !this.devices.vibrator.present;
    changed("#shakes-for", (event) => { this.channels.shakesFor = event.target.value; });
    this._root.querySelectorAll("input[name=variant]").forEach((button) => {
      button.addEventListener("change", () => this._choose(button.value, nowNanos()));
    });
    document.addEventListener("pointerdown", () => this._wake(), true);
    document.addEventListener("visibilitychange", () => {
      this.devices.awake.keep();
      this.tick();
    });
    window.addEventListener("resize", () => this._view.stale());
    window.addEventListener("beforeunload", (event) => {
      if (!["standby", "over"].includes(this.match.phase)) {
        event.preventDefault();
        event.returnValue = "";
      }
    });
  }
}

function devicesOf() {
  return {
    tones: new Tones(newAudio),
    pads: new Pads(navigator.getGamepads ? () => navigator.getGamepads() : null),
    vibrator: new Vibrator(vibratesOf()),
    awake: new Awake(navigator.wakeLock || null),
  };
}

const [plan, files] = ["plan", "files"].map((id) => JSON.parse(document.getElementById(id).textContent));
const page = new Page(plan, files, document);
page.begin();
