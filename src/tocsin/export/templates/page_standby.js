// What stands on the page before a match: what this device can do, whose pads are whose, what is kept of earlier runs.

const PAD_BUTTON = "Press any of its buttons: a browser shows a pad only then.";

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
      ? "asked to shake with the pads; whether this device does, only a hand can tell"
      : "none: this browser cannot shake this device");
    this._say("fact-screen", screenFact(awake));
    this._say("fact-record", this._record.keeps
      ? "kept on this device, over a reload too, until you forget it"
      : "in memory only: save it before you close this page");
    if (this._counted !== this._record.lines.length) {
      this._counted = this._record.lines.length;
      this._say("kept", this._keptText());
      this._root.querySelector("#forget").disabled = !this._counted;
      this._root.querySelector("#save-kept").disabled = !this._counted;
    }
  }

  _keptText() {
    const count = (kind) => this._record.lines.filter((line) => line.kind === kind).length;
    return this._record.lines.length
      ? "Matches: " + count("header") + ", marks: " + count("mark") + ", signals: " + count("firing")
      : "Nothing yet.";
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
    ready: "on. Is the volume right, and no ear at the loudspeaker? At events sound is off: see the settings",
    waits: "waits: browsers allow it only after a tap or a key on this page",
    muted: "off",
    absent: "none: this browser has no Web Audio",
  }[state];
}

function padFact(seat, known) {
  if (!known) {
    return "none: this browser knows no pads";
  }
  if (!seat.there) {
    return seat.index < 0 ? "no pad seen. " + PAD_BUTTON : "gone: plug " + shortName(seat.id) + " in again";
  }
  if (!seat.motors) {
    return shortName(seat.id) + ": has no motors that this browser can drive";
  }
  return shortName(seat.id) + (seat.error ? ": " + seat.error : ": ready. A browser cannot feel it: try it");
}

function screenFact(awake) {
  if (awake.kept) {
    return "kept on while this page is in front";
  }
  return awake.present
    ? "not kept on yet: tap this page once"
    : "this browser cannot keep it on: set a long time-out yourself";
}

// The facts in one line, for the match.
function factsLine({ tones, pads, vibrator, awake }) {
  const ready = (seat) => (seat.motors ? "ready" : "has no motors");
  const seats = pads.seats.map((seat) => seat.role + " pad " + (seat.there ? ready(seat) : "none"));
  const sound = { ready: "sound on", waits: "no sound: tap the page once", muted: "sound off", absent: "no sound" };
  return [
    sound[tones.state],
    ...seats,
    vibrator.present ? "device shakes too" : "no vibration",
    awake.kept ? "screen kept on" : "screen may go dark",
  ].join("  ·  ");
}

// What everybody has to see: a pad that was there and is gone. Else nothing.
function alarmOf(pads) {
  const gone = pads.seats.filter((seat) => seat.index >= 0 && !seat.there);
  return gone.map((seat) => seat.role.toUpperCase() + " PAD GONE: plug it in again").join("  ·  ");
}

// A pad's name without its vendor and product numbers, which browsers add.
function shortName(id) {
  return id.replace(/\s*\(.*(Vendor|STANDARD).*\)\s*$/i, "").replace(/^[0-9a-f]{4}-[0-9a-f]{4}-/i, "") || id;
}
