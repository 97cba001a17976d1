// Keys, buttons and taps: what each asks for. Spans of marks run from key (or finger) down to up.
//
// Beside a program that drives a robot only letters, digits, arrows and page keys may be pressed: no other key does
// anything here. Buttons would take space and enter by themselves; while this device drives a robot they do not.

const KEYS = {
  PageDown: "start", s: "start", x: "scrap", p: "hold", b: "begin", v: "variant", t: "try", m: "mute",
  k: "more", ArrowLeft: "earlier", ArrowRight: "later",
};
const CALL_KEYS = { home: "h" };
const MARK_KEYS = { contact: "7", turned: "8", home: "9" };
const PRESSING_KEYS = [" ", "Enter", "Spacebar"];

class Controls extends Presses {
  // `act` and `mark` are as those of presses. `calls` are the cues that can be given by hand.
  constructor(calls, act, mark) {
    super(act, mark);
    this._keys = { ...KEYS };
    calls.forEach((cue) => { if (CALL_KEYS[cue]) { this._keys[CALL_KEYS[cue]] = "call." + cue; } });
    Object.keys(MARK_KEYS).forEach((label) => { this._keys[MARK_KEYS[label]] = "mark." + label; });
    this.drivesRobot = true;
    document.addEventListener("keydown", (event) => this._keyDown(event), true);
    document.addEventListener("keyup", (event) => this._keyUp(event), true);
  }

  _keyDown(event) {
    if (buttonOf(event) && this.drivesRobot && PRESSING_KEYS.includes(event.key)) {
      event.preventDefault();
    }
    const action = this._action(event);
    if (!action) {
      return;
    }
    event.preventDefault();
    if (event.repeat) {
      return;
    }
    if (action.startsWith("mark.")) {
      this.press("key " + event.code, action.slice(5), timeOf(event));
    } else {
      this._act(action, timeOf(event));
    }
  }

  _keyUp(event) {
    if (buttonOf(event) && this.drivesRobot && PRESSING_KEYS.includes(event.key)) {
      event.preventDefault();
    }
    this.release("key " + event.code, timeOf(event));
  }

  _action(event) {
    const writes = event.target.matches && event.target.matches("select, input[type=range]");
    if (event.ctrlKey || event.altKey || event.metaKey || writes) {
      return "";
    }
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const own = (name) => Object.prototype.hasOwnProperty.call(this._keys, name);
    const digit = digitOf(event);
    return own(digit) ? this._keys[digit] : own(key) ? this._keys[key] : "";
  }
}

// The digit of a key by its place, in the row or in the number block, or nothing: on some layouts the row types digits
// with shift only, and the block none without its lock.
function digitOf(event) {
  const place = /^(?:Digit|Numpad)([0-9])$/.exec(event.code);
  return place ? place[1] : "";
}
