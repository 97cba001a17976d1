// Fingers and mice on buttons: what each asks for. Spans of marks run from down to up.

class Presses {
  // `act(action, atNs)` carries an action out, `mark(label, beginNs, endNs, source)` notes a mark, with null for an end
  // that nobody noted.
  constructor(act, mark) {
    this._act = act;
    this._mark = mark;
    this.down = new Map();                 // source -> {label, beginNs} of marks whose key or finger is down
    this._listenForPresses();
    this._listenForSpans();
    window.addEventListener("blur", () => this.releaseAll());
  }

  // Leave the marks open whose keys are still down: the match is over, or the page loses them. When what they note
  // ended nobody knows then.
  releaseAll() {
    for (const source of [...this.down.keys()]) {
      this.release(source, null);
    }
  }

  press(source, label, atNs) {
    if (!this.down.has(source)) {
      this.down.set(source, { label, beginNs: atNs });
    }
  }

  release(source, atNs) {
    const { label, beginNs } = this.down.get(source) || { label: "", beginNs: 0 };
    if (this.down.delete(source)) {
      this._mark(label, beginNs, atNs, source);
    }
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
    document.addEventListener("keydown", (event) => {
      if (event.key === "Enter" && event.repeat && buttonOf(event)) {
        event.preventDefault();      // a key that is held down would answer itself what is asked twice
      }
    });
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

  _listenForSpans() {
    document.addEventListener("pointerdown", (event) => {
      const button = spanOf(event);
      if (button && !button.disabled) {
        if (button.setPointerCapture) {
          button.setPointerCapture(event.pointerId);
        }
        this.press(...sourceOf(button), timeOf(event));
      }
    });
    ["pointerup", "pointercancel"].forEach((kind) => {
      document.addEventListener(kind, (event) => {
        const button = spanOf(event);
        if (button) {
          this.release(sourceOf(button)[0], timeOf(event));
        }
      });
    });
    document.addEventListener("click", (event) => {
      const button = spanOf(event);
      if (button && event.detail === 0) {  // from a keyboard or an assistive device, which tell no up and down
        this.press(...sourceOf(button), timeOf(event));
        this.release(sourceOf(button)[0], timeOf(event));
      }
    });
    document.addEventListener("contextmenu", (event) => {
      if (spanOf(event)) {
        event.preventDefault();
      }
    });
  }
}

function sourceOf(button) {
  const label = button.dataset.act.slice("mark.".length);
  return ["button " + label, label];
}

// The button that an event is for, or null.
function buttonOf(event) {
  return event.target.closest ? event.target.closest("button[data-act]") : null;
}

// The same, without those whose down and up are told by themselves, and those alone.
function pressedBy(event) {
  const button = buttonOf(event);
  return button && !button.disabled && !button.dataset.act.startsWith("mark.") ? button : null;
}

function spanOf(event) {
  const button = buttonOf(event);
  return button && button.dataset.act.startsWith("mark.") ? button : null;
}

function within({ left, right, top, bottom }, { clientX, clientY }) {
  return left <= clientX && clientX <= right && top <= clientY && clientY <= bottom;
}
