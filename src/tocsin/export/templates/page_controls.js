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

class Controls {
  // `act(action, atNs)` carries an action out, `mark(label, beginNs, endNs, source)` notes a mark, with null for an end
  // that nobody noted.
  constructor(root, calls, act, mark) {
    this._act = act;
    this._mark = mark;
    this._down = new Map();                // source -> {label, beginNs} of marks whose key or finger is down
    this._keys = { ...KEYS };
    calls.forEach((cue) => { if (CALL_KEYS[cue]) { this._keys[CALL_KEYS[cue]] = "call." + cue; } });
    Object.keys(MARK_KEYS).forEach((label) => { this._keys[MARK_KEYS[label]] = "mark." + label; });
    this.drivesRobot = true;
    this._listen(root);
  }

  // Leave the marks open whose keys are still down: the match is over, or the page loses them. When what they note
  // ended nobody knows then.
  releaseAll() {
    for (const source of [...this._down.keys()]) {
      this._release(source, null);
    }
  }

  _listen(root) {
    document.addEventListener("keydown", (event) => this._keyDown(event), true);
    document.addEventListener("keyup", (event) => this._keyUp(event), true);
    window.addEventListener("blur", () => this.releaseAll());
    this._listenForPresses();
    root.querySelectorAll("button[data-act^='mark.']").forEach((button) => {
      this._listenForSpan(button, button.dataset.act.slice(5));
    });
  }

  // A press counts from the finger's down, for the button that stood there then: the first one on this page lets sound
  // in, the line that says so grows, and what stands below has moved when the finger comes up. One that slips off that
  // place presses nothing.
  _listenForPresses() {
    let down = null;
    document.addEventListener("pointerdown", (event) => {
      const button = pressedBy(event);
      down = button && { button, box: button.getBoundingClientRect(), atNs: timeOf(event) };
    }, true);
    document.addEventListener("click", (event) => {
      const atNs = timeOf(event);
      if (event.detail === 0) {      // from a keyboard or an assistive device: they tell no down
        this._pressed(pressedBy(event), atNs);
      } else if (down && within(down.box, event)) {
        this._pressed(down.button, atNs - down.atNs < NS_PER_S ? down.atNs : atNs);
      }
      down = null;
    }, true);
  }

  _pressed(button, atNs) {
    if (button) {
      this._act(button.dataset.act, atNs);
    }
  }

  _listenForSpan(button, label) {
    const source = "button " + label;
    const release = (event) => this._release(source, timeOf(event));
    button.addEventListener("pointerdown", (event) => {
      if (button.setPointerCapture) {
        button.setPointerCapture(event.pointerId);
      }
      this._press(source, label, timeOf(event));
    });
    button.addEventListener("pointerup", release);
    button.addEventListener("pointercancel", release);
    button.addEventListener("click", (event) => {
      if (event.detail === 0) {            // from a keyboard or an assistive device, which tell no up and down
        this._press(source, label, timeOf(event));
        release(event);
      }
    });
    button.addEventListener("contextmenu", (event) => event.preventDefault());
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
      this._press("key " + event.code, action.slice(5), timeOf(event));
    } else {
      this._act(action, timeOf(event));
    }
  }

  _keyUp(event) {
    if (buttonOf(event) && this.drivesRobot && PRESSING_KEYS.includes(event.key)) {
      event.preventDefault();
    }
    this._release("key " + event.code, timeOf(event));
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

  _press(source, label, atNs) {
    if (!this._down.has(source)) {
      this._down.set(source, { label, beginNs: atNs });
    }
  }

  _release(source, atNs) {
    const { label, beginNs } = this._down.get(source) || { label: "", beginNs: 0 };
    if (this._down.delete(source)) {
      this._mark(label, beginNs, atNs, source);
    }
  }
}

// The digit of a key by its place, in the row or in the number block, or nothing: on some layouts the row types digits
// with shift only, and the block none without its lock.
function digitOf(event) {
  const place = /^(?:Digit|Numpad)([0-9])$/.exec(event.code);
  return place ? place[1] : "";
}

// The button that an event is for, or null.
function buttonOf(event) {
  return event.target.closest ? event.target.closest("button[data-act]") : null;
}

// The same, without those whose down and up are told by themselves.
function pressedBy(event) {
  const button = buttonOf(event);
  return button && !button.disabled && !button.dataset.act.startsWith("mark.") ? button : null;
}

function within({ left, right, top, bottom }, { clientX, clientY }) {
  return left <= clientX && clientX <= right && top <= clientY && clientY <= bottom;
}

// The page's own monotonic clock, in nanoseconds.
function nowNanos() {
  return Math.round(performance.now() * NS_PER_MS);
}

// When an event happened; some browsers count its time from elsewhere, then it is now.
function timeOf(event) {
  const nowNs = nowNanos();
  const atNs = Math.round(event.timeStamp * NS_PER_MS);
  return atNs <= nowNs && nowNs - atNs < NS_PER_S ? atNs : nowNs;
}
