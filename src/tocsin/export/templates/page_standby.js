// What stands on the page before a match: what this device can do, whose pads are whose, what is kept of earlier runs.

const PADS_OF = { driver: tr("driver"), operator: tr("operator") };

class Standby {
  constructor(root, devices, record) {
    this._root = root;
    this._devices = devices;
    this._record = record;
    this._said = new Map();
    this._counted = -1;
  }

  // Write all facts anew; texts that did not change are left alone.
  show() {
    const { tones, vibrator, awake } = this._devices;
    this._say("fact-sound", soundFact(tones.state));
    this._devices.pads.seats.forEach((seat) => this._say("fact-" + seat.role, padFact(seat, this._devices.pads.known)));
    this._say("fact-vibration", vibrator.present
      ? tr("asked to shake with the pads; whether this device does, only a hand can tell")
      : tr("none: this browser cannot shake this device"));
    this._say("fact-screen", screenFact(awake));
    this._say("fact-record", this._record.keeps
      ? tr("kept on this device, over a reload too, until you forget it")
      : tr("in memory only: save it before you close this page"));
    if (this._counted !== this._record.lines.length) {
      this._counted = this._record.lines.length;
      this._say("kept", this._keptText());
      this._root.querySelector("#forget").disabled = !this._counted;
      this._root.querySelector("#save-kept").disabled = !this._counted;
    }
  }

  _keptText() {
    const count = (kind) => this._record.lines.filter((line) => line.kind === kind).length;
    const kept = { matches: count("header"), marks: count("mark"), signals: count("firing") };
    return this._record.lines.length
      ? tr("Matches: {matches}, marks: {marks}, signals: {signals}", kept)
      : tr("Nothing yet.");
  }

  _say(id, text) {
    if (this._said.get(id) !== text) {
      this._said.set(id, text);
      this._root.querySelector("#" + id).textContent = text;
    }
  }
}

function soundFact(state) {
  return {
    ready: tr("on. Is the volume right, and no ear at the loudspeaker? At events sound is off: see the settings"),
    waits: tr("waits: browsers allow it only after a tap or a key on this page"),
    muted: tr("off: see the settings"),
    absent: tr("none: this browser has no Web Audio"),
  }[state];
}

function padFact(seat, known) {
  if (!known) {
    return tr("none: this browser knows no pads");
  }
  const pad = shortName(seat.id);
  if (!seat.there) {
    return seat.index < 0
      ? tr("no pad seen. Press any of its buttons: a browser shows a pad only then.")
      : tr("gone: plug {pad} in again", { pad });
  }
  if (!seat.motors) {
    return tr("{pad}: has no motors that this browser can drive", { pad });
  }
  return seat.error ? pad + ": " + seat.error : tr("{pad}: ready. A browser cannot feel it: try it", { pad });
}

function screenFact(awake) {
  if (awake.kept) {
    return tr("kept on while this page is in front");
  }
  return awake.present
    ? tr("not kept on yet: tap this page once")
    : tr("this browser cannot keep it on: set a long time-out yourself");
}

// The facts in one line, for the match.
function factsLine({ tones, pads, vibrator, awake }) {
  const sound = {
    ready: tr("sound on"),
    waits: tr("no sound: tap the page once"),
    muted: tr("sound off"),
    absent: tr("no sound"),
  };
  return [
    sound[tones.state],
    ...pads.seats.map(seatText),
    vibrator.present ? tr("device shakes too") : tr("no vibration"),
    awake.kept ? tr("screen kept on") : tr("screen may go dark"),
  ].join("  ·  ");
}

function seatText(seat) {
  const role = PADS_OF[seat.role];
  if (!seat.there) {
    return tr("{role} pad none", { role });
  }
  return seat.motors ? tr("{role} pad ready", { role }) : tr("{role} pad has no motors", { role });
}

// What everybody has to see: a pad that was there and is gone. Else nothing.
function alarmOf(pads) {
  const gone = pads.seats.filter((seat) => seat.index >= 0 && !seat.there);
  const role = (seat) => PADS_OF[seat.role].toUpperCase();
  return gone.map((seat) => tr("{role}'S PAD OUT: plug it in again", { role: role(seat) })).join("  ·  ");
}

// A pad's name without its vendor and product numbers, which browsers add.
function shortName(id) {
  return id.replace(/\s*\(.*(Vendor|STANDARD).*\)\s*$/i, "").replace(/^[0-9a-f]{4}-[0-9a-f]{4}-/i, "") || id;
}
