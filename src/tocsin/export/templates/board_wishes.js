// What this board asks for: wishes, which may be refused, and marks, which are never lost. Each has a random name, and
// is asked again under the same one until there is an answer: so nothing is done twice.

const FRESH_NS = 3 * NS_PER_S;             // what is older the laptop refuses
const AGAIN_MS = 250;
const OLDEST_MS = 12 * 3600 * 1000;        // so long the laptop knows this phone
const MARKS_KEY = "tocsin.board.marks";

class Wishes {
  // `ask(method, path, body)` puts a question, `tell(text)` says a sentence, `errorNs()` is the ± of the clock.
  constructor(ask, tell, storage, errorNs) {
    this._ask = ask;
    this._tell = tell;
    this._storage = storage;
    this._errorNs = errorNs;
    this._asked = new Set();               // actions that wait for an answer
    this._sending = false;
    this.marks = marksOf(storage);         // those that the laptop has not taken yet, oldest first
  }

  waits(action) {
    return this._asked.has(action);
  }

  // Ask for an action as of `atNs`; while it waits for its answer it is not asked for once more.
  async wish(run, action, atNs, sure) {
    if (this._asked.has(action)) {
      return;
    }
    this._asked.add(action);
    try {
      this._tell(await this._answer(wishOf(run, action, atNs, this._errorNs(), sure)));
    } finally {
      this._asked.delete(action);
    }
  }

  async _answer(wish) {
    for (;;) {
      try {
        return (await this._ask("POST", "api/1/wishes", wish)).text;
      } catch (refusal) {
        const unheard = refusal.status === 0 || refusal.status === 504 || refusal.status === 429;
        if (!unheard) {
          return refusal.message;
        }
        if (nowNanos() - wish.at_ns > FRESH_NS) {
          return tr("The laptop did not answer: look whether it was done before you press again");
        }
      }
      await new Promise((done) => { setTimeout(done, AGAIN_MS); });
    }
  }

  // Note a mark, and send it as soon as there is a line. One that was noted while this phone did not know the time is
  // `unset`: it waits for that.
  mark(run, label, beginNs, endNs) {
    const errorNs = this._errorNs();
    const mark = { id: randomId(), run, label, begin_ns: beginNs, end_ns: endNs, error_ns: errorNs || 0 };
    this.marks.push({ mark, notedMs: Date.now(), unset: errorNs === null });
    this._keep();
    this.send();
  }

  // This phone's clock has been set anew, by so much.
  settle(shiftNs) {
    const errorNs = this._errorNs();
    if (errorNs === null) {
      return;
    }
    for (const waits of this.marks.filter(({ unset }) => unset)) {
      const { mark } = waits;
      waits.unset = false;
      const endNs = mark.end_ns === null ? null : mark.end_ns + shiftNs;
      waits.mark = { ...mark, begin_ns: mark.begin_ns + shiftNs, end_ns: endNs, error_ns: errorNs };
    }
    this._keep();
    this.send();
  }

  // Take back the newest mark that waits; return {label, gone}, or null for none. One that was sent may be at the
  // laptop, answered or not: the laptop takes it back, as soon as it has said that it has it.
  takeBack() {
    const [last] = this.marks.filter(({ back }) => !back).slice(-1);
    if (!last) {
      return null;
    }
    const gone = !last.sent;
    if (gone) {
      this.marks.splice(this.marks.indexOf(last), 1);
    }
    last.back = true;
    this._keep();
    return { label: last.mark.label, gone };
  }

  // Send what waits, one after another; what the laptop refuses is told and gone.
  async send() {
    if (this._sending) {
      return;
    }
    this._sending = true;
    try {
      let answered = true;
      while (answered && this.marks.length && this._maySend(this.marks[0])) {
        answered = await this._sent(this.marks[0]);
      }
    } finally {
      this._sending = false;
    }
  }

  // Whether this phone knows the time well enough for a mark, or for taking it back.
  _maySend({ unset, back }) {
    return !unset && (!back || this._errorNs() !== null);
  }

  // Send the oldest mark; return whether it was answered.
  async _sent(first) {
    first.sent = true;
    this._keep();
    let taken = true;
    try {
      this._tell((await this._ask("POST", "api/1/marks", first.mark)).text);
    } catch (refusal) {
      if (![400, 403, 404, 409, 422].includes(refusal.status)) {
        return false;                      // nobody has answered: it waits
      }
      taken = false;
      this._tell(refusal.message);
    }
    this.marks.shift();
    this._keep();
    if (taken && first.back) {
      this._tell(await this._answer(wishOf(first.mark.run, "undo", nowNanos(), this._errorNs() || 0, false)));
    }
    return true;
  }

  _keep() {
    try {
      this._storage.setItem(MARKS_KEY, JSON.stringify(this.marks));
    } catch (error) {
      // This phone has no room: then they wait on this page alone.
    }
  }
}

function wishOf(run, action, atNs, errorNs, sure) {
  return { id: randomId(), run, action, at_ns: atNs, error_ns: errorNs, sure };
}

function marksOf(storage) {
  try {
    const found = JSON.parse(storage.getItem(MARKS_KEY) || "[]");
    // Of one that is unset the clock went with its page.
    const known = ({ notedMs, unset }) => !unset && Date.now() - notedMs < OLDEST_MS;
    return found.filter(known);
  } catch (error) {
    return [];
  }
}
