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
      this._tell(await this._answer({ id: randomId(), run, action, at_ns: atNs, error_ns: this._errorNs(), sure }));
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

  // Take back the newest mark that the laptop has not; return its label, or nothing.
  takeBack() {
    const [last] = this.marks.slice(this._sending ? 1 : 0).slice(-1);
    if (!last) {
      return "";
    }
    this.marks.splice(this.marks.indexOf(last), 1);
    this._keep();
    return last.mark.label;
  }

  // Send what waits, one after another; what the laptop refuses is told and gone.
  async send() {
    if (this._sending) {
      return;
    }
    this._sending = true;
    while (this.marks.length && !this.marks[0].unset) {
      try {
        this._tell((await this._ask("POST", "api/1/marks", this.marks[0].mark)).text);
      } catch (refusal) {
        if (![400, 403, 404, 409, 422].includes(refusal.status)) {
          break;                           // nobody has answered: it waits
        }
        this._tell(refusal.message);
      }
      this.marks.shift();
      this._keep();
    }
    this._sending = false;
  }

  _keep() {
    this._storage.setItem(MARKS_KEY, JSON.stringify(this.marks));
  }
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
