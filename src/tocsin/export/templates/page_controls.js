// Keys, buttons and taps: what each asks for. Spans of marks run from key (or finger) down to up.
//
// Some programs that drive robots stop them on space, enter, escape, brackets, backslash and F1 to F12, whichever
// window has the focus: none of these does anything here. Buttons would take space and enter by themselves; while this
// device drives a robot they do not.

const KEYS = {
  PageDown: "start", s: "start", x: "scrap", p: "hold", b: "begin", v: "variant", t: "try", u: "mute",
  ArrowLeft: "earlier", ArrowRight: "later",
};
const CALL_KEYS = { home: "h" };
const MARK_KEYS = { contact: "c", home: "m" };
const PRESSING_KEYS = [" ", "Enter", "Spacebar"];

class Controls {
  // `act(action, atNs, byButton)` carries an action out, `mark(label, beginNs, endNs, source)` notes a mark.
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

  // End the marks whose keys are still down: the match is over, or the page loses them.
  releaseAll(nowNs) {
    for (const source of [...this._down.keys()]) {
      this._release(source, nowNs);
    }
  }

  _listen(root) {
    document.addEventListener("keydown", (event) => this._keyDown(event), true);
    document.addEventListener("keyup", (event) => this._keyUp(event), true);
    window.addEventListener("blur", () => this.releaseAll(nowNanos()));
    root.querySelectorAll("button[data-act]").forEach((button) => {
      const action = button.dataset.act;
      if (action.startsWith("mark.")) {
        this._listenForSpan(button, action.slice(5));
      } else {
        this._listenForPress(button, action);
      }
    });
  }

  // A press counts from the finger's down, though it is a press only with its up.
  _listenForPress(button, action) {
    let downNs = -Infinity;
    button.addEventListener("pointerdown", (event) => { downNs = timeOf(event); });
    button.addEventListener("click", (event) => {
      const atNs = timeOf(event);
      this._act(action, event.detail > 0 && atNs - downNs < NS_PER_S ? downNs : atNs, true);
    });
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
    const button = event.target.closest ? event.target.closest("button[data-act]") : null;
    if (button && this.drivesRobot && PRESSING_KEYS.includes(event.key)) {
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
      this._act(action, timeOf(event), false);
    }
  }

  _keyUp(event) {
    const button = event.target.closest ? event.target.closest("button[data-act]") : null;
    if (button && this.drivesRobot && PRESSING_KEYS.includes(event.key)) {
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
    return Object.prototype.hasOwnProperty.call(this._keys, key) ? this._keys[key] : "";
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
