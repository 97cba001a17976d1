// What a device can do for a page, as far as its browser lets it: sound, vibration, a screen that stays on. And whether
// the device slept: then the page's clock may have stood still while the match went on.

const SLEPT_NS = NS_PER_S;

class Awake {
  constructor(wakeLock) {
    this._wakeLock = wakeLock;             // navigator.wakeLock or null
    this._lock = null;
    this._asks = false;
    this._aheadNs = null;
  }

  get present() {
    return this._wakeLock !== null;
  }

  get kept() {
    return this._lock !== null;
  }

  // Ask for it; browsers take it back whenever the page is hidden, so ask again when it shows.
  keep() {
    if (!this.present || this.kept || this._asks || document.visibilityState !== "visible") {
      return;
    }
    this._asks = true;
    const done = (lock) => {
      this._asks = false;
      this._lock = lock;
      if (lock) {
        lock.addEventListener("release", () => { this._lock = null; });
      }
    };
    this._wakeLock.request("screen").then(done, () => done(null));
  }

  // How long the wall clock has run ahead of the page's own since the last look, in nanoseconds; 0 where it has not.
  // It may also have been set by hand: the page only says so, and corrects nothing by itself.
  slept(nowNs, wallMs) {
    const aheadNs = wallMs * NS_PER_MS - nowNs;
    const stepNs = this._aheadNs === null ? 0 : aheadNs - this._aheadNs;
    this._aheadNs = aheadNs;
    return Math.abs(stepNs) >= SLEPT_NS ? stepNs : 0;
  }
}

function matches(query) {
  return Boolean(window.matchMedia && window.matchMedia(query).matches);
}

// An audio context, or null where the browser has none.
function newAudio() {
  const Context = window.AudioContext || window.webkitAudioContext;
  try {
    return Context ? new Context({ latencyHint: "interactive" }) : null;
  } catch (error) {
    return null;
  }
}

// What lets this device vibrate, or null: browsers on laptops say yes to vibrate() and have nothing that shakes.
function vibratesOf() {
  return navigator.vibrate && matches("(pointer: coarse)") ? (ms) => navigator.vibrate(ms) : null;
}
