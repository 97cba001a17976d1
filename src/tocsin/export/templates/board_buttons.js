// The buttons of a board: what may be marked and wished now, as the laptop offers it.

const OWN_MARKS = ["contact", "turned", "home"];       // a scribe's, in the order of what happens: large
const MARK_WORDS = {
  contact: tr("Contact"), turned: tr("Turned"), home: tr("Home"),
  contact_by_partner: tr("Partner’s contact"), contact_by_opponent: tr("Opponent’s contact"),
};
const NEXT_STEPS = ["begin", "resume", "start"];       // of those that are offered the first one stands large
const NEW_MS = 700;                        // a finger that comes down twice does not press what came there meanwhile
const SURE_MS = 2000;
const MARKED_IN = ["running", "held", "over"];

class Buttons {
  constructor(root) {
    this._find = (selector) => root.querySelector(selector);
    this._marks = [];
    this._drawn = "";
    this._next = "";
    this._nextMs = -Infinity;
    this._sure = { action: "", ms: -Infinity };
    this.more = false;
  }

  // Draw what is offered. `held` are the labels of marks that are down, with their seconds.
  show(mirror, wishes, held, ms) {
    const asks = ms - this._sure.ms < SURE_MS ? this._sure.action : "";
    const can = mirror.state ? mirror.state.can : [];
    const marks = labelsOf(can);
    // Between matches they stay where they are, and rest.
    this._marks = marks.length ? marks : this._marks.length ? this._marks : labelsOf(mirror.scribe);
    const known = mirror.right === "watch" ? [] : this._marks;
    const next = NEXT_STEPS.map((action) => mirror.offer(action)).find(Boolean) || null;
    const shown = ["undo", next && next.action];
    const rest = can.filter(({ action }) => !action.startsWith("mark.") && !shown.includes(action));
    rest.sort((one, other) => Number(one.sure) - Number(other.sure));       // what ends a match stands last
    const marked = marks.length && MARKED_IN.includes(mirror.phase);
    const drawn = JSON.stringify([known, marked, next, rest, mirror.offer("undo"), asks, this.more, mirror.phase]);
    if (drawn !== this._drawn) {
      this._drawn = drawn;
      this._draw(known, Boolean(marked), next, rest, mirror.offer("undo"), asks, ms);
    }
    this._count(held);
  }

  // Whether a press of this action counts: not if it has come to stand there only now, and not before it was asked
  // twice where it has to be.
  counts(offer, ms) {
    if (offer.action === this._next && ms - this._nextMs < NEW_MS) {
      return false;
    }
    const again = this._sure.action === offer.action && ms - this._sure.ms < SURE_MS;
    this._sure = offer.sure && !again ? { action: offer.action, ms } : { action: "", ms: -Infinity };
    return !offer.sure || again;
  }

  _draw(marks, marked, next, rest, undo, asks, ms) {
    const own = OWN_MARKS.filter((label) => marks.includes(label));
    const large = own.length ? own : marks.slice(0, 3);
    const small = marks.filter((label) => !large.includes(label));
    const button = (label) => ({ action: "mark." + label, text: markWord(label), disabled: !marked });
    fillWith(this._find("#pads"), large.map(button));
    this._find("#pads").classList.toggle("three", large.length === 3);
    const others = small.map(button);
    fillWith(this._find("#others"), undo || marks.length ? [...others, { action: "undo", text: tr("Undo mark"), disabled: !undo }] : []);
    const steps = next ? [{ action: next.action, text: wordOf(next), kind: "next" }] : [];
    const more = { action: "more", text: this.more ? tr("Fewer") : tr("More"), disabled: !rest.length };
    fillWith(this._find("#bar"), rest.length || !next ? [...steps, more] : steps);
    this._find("#bar").classList.toggle("two", steps.length > 0 && rest.length > 0);
    if (this._next !== (next || {}).action) {
      this._next = (next || {}).action;
      this._nextMs = ms;
    }
    const sure = (offer) => (offer.action === asks ? tr("{what}: press again", { what: wordOf(offer) }) : wordOf(offer));
    fillWith(this._find("#more"), rest.map((offer) => ({
      action: offer.action, text: sure(offer), kind: offer.sure ? "apart" : "",
    })));
    this._find("#more").hidden = !this.more || !rest.length;
  }

  _count(held) {
    for (const button of document.querySelectorAll("button[data-act^='mark.']")) {
      const seconds = held.get(button.dataset.act.slice(5));
      const text = seconds === undefined ? "" : seconds.toFixed(1) + " s";
      button.classList.toggle("held", text !== "");
      if (button.lastChild.textContent !== text) {
        button.lastChild.textContent = text;
      }
    }
  }
}

function labelsOf(offers) {
  return offers.filter(({ action }) => action.startsWith("mark.")).map(({ action }) => action.slice("mark.".length));
}

function markWord(label) {
  return MARK_WORDS[label] || capital(label.replace(/_/g, " "));
}

// What stands on the button of an offer: the laptop's words for it.
function wordOf({ action, does }) {
  return action === "begin" ? tr("Begins now") : capital(does);
}

function capital(text) {
  return text.slice(0, 1).toUpperCase() + text.slice(1);
}

// Let an element hold these buttons. Those that were there stay the same elements: a finger may be down on one.
function fillWith(element, wanted) {
  const old = new Map([...element.children].map((button) => [button.dataset.act, button]));
  const buttons = wanted.map(({ action, text, kind, disabled }) => {
    const button = old.get(action) || newButton(action);
    old.delete(action);
    if (button.firstChild.textContent !== text) {
      button.firstChild.textContent = text;
    }
    button.disabled = Boolean(disabled);
    button.classList.toggle("next", kind === "next");
    button.classList.toggle("apart", kind === "apart");
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
