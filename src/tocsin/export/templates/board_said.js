// The one line of a board: what became of a press, else the worst thing that people should know; empty if all is well.

const TOLD_MS = 6000;                      // so long a sentence stands
const QUIET_MS = 6000;                     // so long nothing is said of a line that is cut
const WIDE_MS = 500;                       // a ± from which people should know it

class SaidLine {
  // `known` has the board's {line, rights, clock, mirror, wishes}.
  constructor(root, known) {
    this._element = root.querySelector("#worst");
    this._known = known;
    this._told = { text: "", ms: -Infinity };
  }

  tell(text) {
    if (text) {
      this._told = { text, ms: performance.now() };
    }
  }

  // Show the line; `question` is what is asked of a person who has just pressed, or nothing.
  show(ms, question) {
    const { state } = this._known.mirror;
    const { channels, line } = this._known;
    const cue = channels && channels.showing();                          // it hides what stands on the plate
    const stands = !cue && state && state.status.notice === this._told.text;
    const asked = state && this._known.mirror.answers ? state.status.ask : "";       // its answers lie over the plate
    const told = question || (!stands && ms - this._told.ms < TOLD_MS ? this._told.text : asked) || this._setUp();
    const waits = told && (line.late || line.is !== "open") ? this._waits() : "";
    const bad = told ? "" : this.bad(ms);
    setText(this._element, (waits ? told + ". " + waits : told) || bad || (state ? this._wide(state.status) : ""));
    this._element.classList.toggle("bad", bad !== "");
    this._element.classList.toggle("told", told !== "");
  }

  bad(ms) {
    const { line, rights, clock, mirror } = this._known;
    if (!rights.token) {
      return tr("Scan the code on the laptop’s screen with this phone’s camera");
    }
    if (line.is === "refused" && line.why) {
      return line.why;
    }
    if (mirror.away && line.is !== "open") {
      return this.ended();
    }
    const silentMs = ms - line.heardMs;
    if (line.is !== "open" && silentMs > QUIET_MS) {
      return Number.isFinite(silentMs) ? this.unheard(silentMs) : tr("No laptop answers: are both in one network?");
    }
    if (line.late && mirror.timeline) {
      return this.late();
    }
    if (mirror.timeline && !clock.known) {
      return tr("! Setting this phone’s clock");
    }
    const alarms = mirror.state ? mirror.state.view.alarms : [];
    return alarms.length ? "! " + alarms.map(({ what, fix }) => (fix ? what + ": " + fix : what)).join(", ") : "";
  }

  // What the laptop said last: it has ended, and is not only out of reach.
  ended() {
    const { mirror, clock } = this._known;
    const goesOn = mirror.runs && clock.known;
    const said = goesOn ? tr("{ended}: this clock runs by itself", { ended: mirror.away }) : mirror.away;
    const waits = this._waits();
    return "! " + (waits ? said + ". " + waits : said);
  }

  // What the laptop does meanwhile, while it is heard and plays nothing, where a picture has the plate's place.
  _setUp() {
    const { mirror, line } = this._known;
    return line.is === "open" && mirror.away && mirror.state.status.picture ? mirror.away : "";
  }

  unheard(silentMs) {
    const facts = { count: Math.floor(silentMs / 1000) };
    const said = this._known.clock.known
      ? tr("! Not heard for {count} s: this clock runs by itself", facts)
      : tr("! Not heard for {count} s: no time until the laptop answers", facts);
    const waits = this._waits();
    return waits ? said + ". " + waits : said;
  }

  late() {
    const [said, waits] = [tr("! The laptop does not answer"), this._waits()];
    return waits ? said + ": " + waits : said;
  }

  _waits() {
    const count = this._known.wishes.marks.length;
    return count ? trn("{count} mark waits", "{count} marks wait", count) : "";
  }

  _wide({ error_ms: keepersMs }) {
    const waits = this._known.line.is === "open" ? "" : this._waits();
    const ms = (keepersMs || 0) + (this._known.clock.errorNs || 0) / NS_PER_MS;
    return waits || (ms > WIDE_MS ? tr("clock ± {error} s", { error: (ms / 1000).toFixed(1) }) : "");
  }
}

function setText(element, text) {
  if (element.textContent !== text) {
    element.textContent = text;
  }
}
