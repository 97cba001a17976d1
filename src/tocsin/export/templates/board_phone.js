// The page about this phone, which also stands at the very begin: a tap lets sound in, and the whole screen.

const FLIP_MS = 500;                       // two looks in turn are no flashing light
const NOBODY = "nobody";                   // whose cues shake a phone that shakes for none

const LOOK_KEY = "tocsin.board.look";

class PhonePage {
  // `changed()` is called when the layout or what shakes is another.
  constructor(root, devices, storage, changed) {
    this._find = (selector) => root.querySelector(selector);
    this._devices = devices;
    this._storage = storage;
    this._changed = changed;
    this._find("#shakes").hidden = !devices.vibrator.present;
    this._setting("sound", "no", (on) => {
      devices.tones.setVolume(devices.tones.volume, !on);
      this.wake();
    });
    this._setting("shake", "yes", changed);
    this._setting("mirrored", "no", (on) => {
      this._find("#board").classList.toggle("mirrored", on);
      changed();
    });
    this._flippedMs = -Infinity;
    this._lightUp(storage.getItem(LOOK_KEY) === "light");
    // A page that is loaded anew in a match goes on at once.
    this.show(!(history.state && history.state.entered));
  }

  // For whose cues this phone shakes: everybody's or nobody's.
  get shakesFor() {
    return this._find("#shake").checked ? "" : NOBODY;
  }

  get shows() {
    return !this._find("#phone").hidden;
  }

  // Take the other look: dark, or light for the sun.
  flip(ms) {
    if (ms - this._flippedMs < FLIP_MS) {
      return;
    }
    this._flippedMs = ms;
    this._lightUp(!this.light);
    this._storage.setItem(LOOK_KEY, this.light ? "light" : "dark");
    this._changed();
  }

  show(shows) {
    this._find("#phone").hidden = !shows;
    this._find("#line [data-act=phone]").setAttribute("aria-expanded", String(shows));
    if (shows) {
      this._find("#phone-title").focus();
    }
  }

  // Say who this board is to the laptop. In a match it has no place: it would hide the clock.
  tell(mirror) {
    const { state } = mirror;
    const inMatch = mirror.runs && !mirror.away;
    this._find("#line [data-act=phone]").hidden = inMatch;
    if (inMatch && this._inMatch === false) {
      this.show(false);
    }
    this._inMatch = state ? inMatch : null;
    if (!this.shows) {
      return;
    }
    const who = {
      watch: (you) => tr("This is board {number}. It watches.", you),
      mark: (you) => tr("This is board {number}. It may mark.", you),
      steer: (you) => tr("This is board {number}. It may mark, and lead rounds: start, hold, cancel.", you),
    };
    const darkens = tr("This phone will darken by itself: set its screen to stay on.");
    setText(this._find("#who"), state ? who[state.you.right](state.you) : "");
    setText(this._find("#awake"), this._devices.awake.present ? "" : darkens);
  }

  enter() {
    this.show(false);
    history.replaceState({ entered: true }, "");
    this.wake();
    const root = document.documentElement;
    if (root.requestFullscreen && matches("(pointer: coarse)")) {
      root.requestFullscreen().catch(() => {});
    }
    this._changed();
  }

  wake() {
    this._devices.awake.keep();
    if (this._find("#sound").checked) {
      this._devices.tones.wake();
    }
  }

  _lightUp(light) {
    this.light = light;
    document.documentElement.dataset.look = light ? "light" : "dark";
    document.querySelector("meta[name=theme-color]").content = light ? "#ffffff" : "#000000";
    document.querySelectorAll("button.look").forEach((button) => button.setAttribute("aria-pressed", String(light)));
  }

  _setting(id, first, does) {
    const box = this._find("#" + id);
    const name = "tocsin.board." + id;
    box.checked = (this._storage.getItem(name) || first) === "yes";
    box.addEventListener("change", () => {
      this._storage.setItem(name, box.checked ? "yes" : "no");
      does(box.checked);
    });
    does(box.checked);
  }
}
