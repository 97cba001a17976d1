// The buttons of a board: what may be marked and wished now, as the laptop offers it.

// A scribe's, in the order of what happens: large.
const OWN_MARKS = ["mark.contact", "mark.turned", "mark.home"];
const NEXT_STEPS = ["begin", "resume", "start"];       // of those that are offered the first one stands large
const NEW_MS = 1500;                       // so long a step is not taken that came where another one stood
const SURE_MS = 4000;                      // so long a second press counts as one
const SURE_FROM_MS = 120;                  // and from when on: a finger bounces faster (common practice, no source)
// What a slip must not do: it ends or spoils a round. It stands apart, and is asked twice.
const GRAVE = ["hold", "scrap", "repeat", "drop"];
const TWICE = ["hold", "scrap", "repeat", "resume"];
const NOTED_MS = 1500;                     // so long a pad says what became of it: as long as Home again is half of it
const MORE_MS = 10000;                     // so long after the last finger on it More stays open in a match
const ALONE = ["hold", "resume"];          // what is asked twice and needs no More
const FIELD = tr("Field clear?");
const HOMES = [tr("noted"), tr("half home"), tr("not home")];
const NOT_ASKED = { action: "", text: "", ms: -Infinity };
const MARKED_IN = ["running", "held", "over"];

class Buttons {
  constructor(root) {
    this._find = (selector) => root.querySelector(selector);
    this._marks = [];
    this._drawn = "";
    this._next = { action: "", text: "" };
    this._nextMs = -Infinity;
    this._sure = NOT_ASKED;
    this._notes = new Map();               // action -> {text, ms, times} of what was pressed last
    this._less = false;                    // Home was tapped on, to half or not home: one mark stands for both taps
    this._moreMs = -Infinity;
    this._cue = false;
    this.more = false;
  }

  toggleMore(ms) {
    this.more = !this.more;
    this.touchedAt(ms);
  }

  // A finger was on More.
  touchedAt(ms) {
    this._moreMs = ms;
  }

  // Let a pad say at once, in its own place, that it was pressed, whatever fills the rest of the screen.
  markedAt(label, beginNs, ms) {
    const last = this._notes.get("mark." + label);
    const again = label === "home" && last && beginNs - last.beginNs < NOTED_MS * NS_PER_MS && last.times + 1 < HOMES.length;
    const times = again ? last.times + 1 : 0;
    this._less = times > 0;
    this._notes.set("mark." + label, { text: HOMES[times], ms, times, beginNs });
  }

  undoneAt(text, ms) {
    this._notes.delete("mark.home");       // the next tap says home again
    this._less = false;
    this._notes.set("undo", { text, ms });
  }

  // Draw what is offered. `held` are the labels of marks that are down, with their seconds; `cue` is whether one shows,
  // `unheard` whether the laptop is not heard, `waits` whether marks wait for it.
  show(mirror, held, { ms, cue, unheard, waits }) {
    const inTheWay = mirror.phase === "running" && (cue && !this._cue || ms - this._moreMs > MORE_MS);
    this._cue = cue;
    this.more = this.more && !inTheWay;
    this._less = this._less && mirror.phase !== "standby";
    const { action } = this._sure;
    if (!mirror.offer(action) || (!this.more && !mirror.answers && !ALONE.includes(action))) {
      this._sure = NOT_ASKED;
    }
    const asks = ms - this._sure.ms < SURE_MS ? this._sure.action : "";
    const can = mirror.state ? mirror.state.can : [];
    const offered = can.filter(isMark);
    // Between matches they stay where they are, and rest.
    this._marks = offered.length ? offered : this._marks.length ? this._marks : mirror.scribe.filter(isMark);
    const marks = mirror.right === "watch" ? [] : this._marks;
    const rests = !offered.length || !MARKED_IN.includes(mirror.phase);
    const next = NEXT_STEPS.map((action) => mirror.offer(action)).find(Boolean) || null;
    // One slip from nothing else, and in reach at once: the first thing that a person looks for if something is wrong.
    const alone = !next && mirror.runs ? mirror.offer("hold") : null;
    const shown = ["undo", next && next.action, alone && alone.action];
    const rest = can.filter((offer) => !isMark(offer) && !shown.includes(offer.action));
    // Answers to what is asked after a match stand there by themselves.
    const { answers } = mirror;
    const undo = unheard ? waits : mirror.offer("undo") !== null;       // what waits is taken back here
    const facts = {
      marks, rests, next, alone, rest, undo, asks, more: this.more || answers, answers, unheard, less: this._less, over: !mirror.runs,
    };
    const drawn = JSON.stringify(facts);
    if (drawn !== this._drawn) {
      this._drawn = drawn;
      this._drawMarks(facts);
      this._drawSteps(facts, ms);
    }
    this._tell(held, ms, waits);
  }

  // The words of a step that a press is not for, since another one stood there until just now; else nothing.
  slipped(action, ms) {
    return action === this._next.action && ms - this._nextMs < NEW_MS ? this._next.text : "";
  }

  // What is asked now, in words, for those who do not see the button; else nothing.
  question(ms) {
    const field = this._sure.action === "resume" ? FIELD + " " : "";
    return ms - this._sure.ms < SURE_MS ? field + tr("{what}: press again", { what: this._sure.text }) : "";
  }

  // Whether a press of this action counts: not before it was asked twice, where it has to be.
  counts(offer, ms) {
    if (!offer.sure && !TWICE.includes(offer.action)) {
      this._sure = NOT_ASKED;
      return true;
    }
    const sinceMs = this._sure.action === offer.action ? ms - this._sure.ms : Infinity;
    if (sinceMs < SURE_FROM_MS) {
      return false;
    }
    const again = sinceMs < SURE_MS;
    this._sure = again ? NOT_ASKED : { action: offer.action, text: wordOf(offer), ms };
    return again;
  }

  _drawMarks({ marks, rests, undo, less }) {
    const own = marks.filter(({ action }) => OWN_MARKS.includes(action));
    own.sort((one, other) => OWN_MARKS.indexOf(one.action) - OWN_MARKS.indexOf(other.action));
    const large = own.length ? own : marks.slice(0, OWN_MARKS.length);
    const button = (offer) => ({ action: offer.action, text: wordOf(offer), disabled: rests });
    const small = marks.filter((offer) => !large.includes(offer)).map(button);
    const back = marks.length || undo ? [{ action: "undo", text: less && undo ? tr("Undo: takes back home") : tr("Undo mark"), disabled: !undo }] : [];
    fillWith(this._find("#pads"), large.map(button));
    this._find("#pads").classList.toggle("three", large.length === OWN_MARKS.length);
    fillWith(this._find("#others"), [...small, ...back]);
  }

  _drawSteps({ next, alone, rest, asks, more: open, answers, unheard, over }, ms) {
    const [action, text] = next ? [next.action, wordOf(next)] : ["", ""];
    if (this._next.action !== action || this._next.text !== text) {
      this._nextMs = this._next.action ? ms : -Infinity;
      this._next = { action, text };
    }
    const note = unheard ? tr("laptop not heard") : "";
    const isGrave = (offer) => offer.sure || GRAVE.includes(offer.action);
    const button = (offer, kind = "") => ({
      action: offer.action,
      text: offer.action === asks ? tr("{what}: press again", { what: wordOf(offer) }) : wordOf(offer),
      kind: kind + (offer.action === asks ? " asks" : ""),
      disabled: unheard,
      note: offer.action === asks && asks === "resume" ? FIELD : note,
    });
    const steps = next ? [button(next, "next")] : alone ? [button(alone, "grave")] : [];
    const more = { action: "more", text: open ? tr("Fewer") : tr("More"), disabled: !rest.length || answers };
    fillWith(this._find("#bar"), [...steps, more]);
    fillWith(this._find("#calls"), rest.filter((offer) => !isGrave(offer)).map((offer) => button(offer)));
    fillWith(this._find("#grave"), rest.filter(isGrave).map((offer) => button(offer, "grave")));
    this._find("#more").hidden = !open || !rest.length;
    this._find("#more").classList.toggle("over", over);
  }

  _tell(held, ms, waits) {
    for (const button of document.querySelectorAll("#pads button, #others button")) {
      const { act } = button.dataset;
      const seconds = isMark({ action: act }) ? held.get(act.slice(5)) : undefined;
      const note = seconds === undefined ? this._noteOf(act, ms, waits) : "";
      const text = seconds === undefined ? note : seconds.toFixed(1) + " s";
      button.classList.toggle("held", seconds !== undefined);
      button.classList.toggle("noted", note !== "");
      if (button.lastChild.textContent !== text) {
        button.lastChild.textContent = text;
      }
    }
  }

  _noteOf(action, ms, waits) {
    const note = this._notes.get(action);
    if (!note || ms - note.ms > NOTED_MS) {
      return "";
    }
    return waits && note.text === HOMES[0] ? tr("waits") : note.text;
  }
}

function isMark({ action }) {
  return action.startsWith("mark.");
}

// What stands on the button of an offer: the laptop's words for it, without what they say of its keys.
function wordOf({ action, does }) {
  return action === "begin" ? tr("Begins now") : capital(isMark({ action }) ? does.split(" (")[0] : does);
}

function capital(text) {
  return text.slice(0, 1).toUpperCase() + text.slice(1);
}

// Let an element hold these buttons. Those that were there stay the same elements: a finger may be down on one.
function fillWith(element, wanted) {
  const old = new Map([...element.children].map((button) => [button.dataset.act, button]));
  const buttons = wanted.map(({ action, text, kind, disabled, note }) => {
    const button = old.get(action) || newButton(action);
    old.delete(action);
    if (button.firstChild.textContent !== text) {
      button.firstChild.textContent = text;
    }
    if (note !== undefined) {
      button.lastChild.textContent = note;
    }
    button.disabled = Boolean(disabled);
    button.className = kind || "";
    return button;
  });
  old.forEach((button) => button.remove());
  buttons.forEach((button, place) => {
    if (element.children[place] !== button) {
      element.insertBefore(button, element.children[place] || null);
    }
  });
  element.hidden = !buttons.length;
}

function newButton(action) {
  const button = document.createElement("button");
  button.type = "button";
  button.dataset.act = action;
  const [said, time] = [document.createElement("span"), document.createElement("span")];
  time.className = "time";
  time.setAttribute("aria-hidden", "true");
  button.append(said, time);
  return button;
}
