// The line to the laptop: one stream of events for each page, read by fetch, since a token has to go with it; and
// questions that are answered at once. A dead network sends no farewell: who hears nothing for SILENT_MS begins anew.

const SILENT_MS = 6000;                    // the laptop says something each 2 s, if only that it is there
const PAUSES_MS = [250, 500, 1000, 2000];
const REFUSED_MS = 10000;                  // who shows a wrong token too often is shut out for a minute
const LATE_MS = 2000;                      // a question without an answer for so long: what people press waits
const ANSWER_MS = 4000;                    // longer than the 2 s after which the service says that nobody answered

// An answer that is a refusal: its HTTP status, 0 where there was none, and its sentence for people.
class Refusal extends Error {
  constructor(status, detail) {
    super(detail);
    this.status = status;
  }
}

// A wait that can be cut short.
class Pause {
  constructor() {
    this._done = () => {};
  }

  wait(ms) {
    return new Promise((done) => {
      const timer = setTimeout(done, ms);
      this._done = () => {
        clearTimeout(timer);
        done();
      };
    });
  }

  end() {
    this._done();
  }
}

// Reads text/event-stream (WHATWG HTML, 9.2.6) out of pieces that end anywhere.
class EventParser {
  // `hear(kind, data)` is called with each event that has data.
  constructor(hear) {
    this._hear = hear;
    this._decoder = new TextDecoder("utf-8");      // takes a byte order mark away
    this._rest = "";
    this._afterCr = false;
    this._kind = "";
    this._data = [];
  }

  feed(bytes) {
    let text = this._decoder.decode(bytes, { stream: true });
    if (!text) {
      return;
    }
    if (this._afterCr && text[0] === "\n") {          // the second half of a line's end
      text = text.slice(1);
    }
    this._afterCr = text ? text.endsWith("\r") : false;
    this._rest += text;
    const ends = /\r\n|\n|\r/g;
    let at = 0;
    for (let end = ends.exec(this._rest); end !== null; end = ends.exec(this._rest)) {
      this._line(this._rest.slice(at, end.index));
      at = ends.lastIndex;
    }
    this._rest = this._rest.slice(at);
  }

  _line(line) {
    if (line === "") {
      this._event();
      return;
    }
    const colon = line.indexOf(":");
    const field = colon < 0 ? line : line.slice(0, colon);
    const value = colon < 0 ? "" : line.slice(colon + 1).replace(/^ /, "");
    if (field === "event") {
      this._kind = value;
    } else if (field === "data") {
      this._data.push(value);
    }
  }

  _event() {
    const [kind, data] = [this._kind || "message", this._data];
    this._kind = "";
    this._data = [];
    if (data.length) {
      this._hear(kind, data.join("\n"));
    }
  }
}

class Line {
  // `headers()` go with each question. `hear(kind, data)` is called with each event, `changed(is)` with what the line
  // has become: "open", "cut", or "refused", for `why` the laptop says: it does not know the token, or is full.
  constructor(headers, hear, changed) {
    this._headers = headers;
    this._hear = hear;
    this._changed = changed;
    this._wanted = false;
    this._running = false;
    this._stop = null;
    this._pause = new Pause();
    this.heardMs = -Infinity;
    this.late = false;                     // the newest question that is known of has no answer
    this.is = "cut";
    this.why = "";
  }

  // Listen from now on, again and again, until it is let go.
  open() {
    this._wanted = true;
    if (!this._running) {
      this._running = true;
      this._run();
    }
    this.hurry();
  }

  letGo() {
    this._wanted = false;
    this._end();
    this.hurry();
  }

  // Whether the laptop has not been heard for so long that nothing it offered holds.
  unheard(ms) {
    return ms - this.heardMs > SILENT_MS;
  }

  // Do not wait for the end of a pause.
  hurry() {
    this._pause.end();
  }

  // Begin anew at once: what is open may be dead.
  anew() {
    this._end();
    this.open();
  }

  // Return what a question yields. Raises a Refusal.
  async ask(method, path, body) {
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), ANSWER_MS);
    const lateTimer = setTimeout(() => { this.late = true; }, LATE_MS);
    try {
      const answer = await fetch(path, {
        method,
        signal: stop.signal,
        cache: method === "GET" ? "no-cache" : "no-store",
        headers: { ...this._headers(), ...(body === undefined ? {} : { "Content-Type": "application/json" }) },
        body: body === undefined ? undefined : JSON.stringify(body),
      });
      const found = await answer.json().catch(() => ({}));
      this.late = answer.status === 504;   // the service's word for a laptop that does not answer
      if (!answer.ok) {
        throw new Refusal(answer.status, found.detail || "");
      }
      return found;
    } catch (error) {
      this.late = this.late || !(error instanceof Refusal);
      throw error instanceof Refusal ? error : new Refusal(0, "");
    } finally {
      clearTimeout(lateTimer);
      clearTimeout(timer);
    }
  }

  async _run() {
    let failed = 0;
    while (this._wanted) {
      const { heard, waitMs } = await this._listen();
      failed = heard ? 0 : failed + 1;
      if (this._wanted) {
        await this._pause.wait(waitMs || PAUSES_MS[Math.min(failed, PAUSES_MS.length - 1)]);
      }
    }
    this._running = false;
    if (this._wanted) {
      this.open();
    }
  }

  // Listen until the line ends, however it does; return whether anything was heard, and how long to wait at least.
  async _listen() {
    const stop = new AbortController();
    this._stop = stop;
    let timer = setTimeout(() => stop.abort(), SILENT_MS);
    let heard = false;
    try {
      const headers = { ...this._headers(), Accept: "text/event-stream" };
      const answer = await fetch("api/1/events", { headers, signal: stop.signal, cache: "no-store" });
      if (!answer.ok) {
        this.why = (await answer.json().catch(() => ({}))).detail || "";
        this._becomes("refused");
        const waitMs = 1000 * Number(answer.headers.get("Retry-After") || 0);
        return { heard: false, waitMs: answer.status === 401 ? REFUSED_MS : waitMs };
      }
      const parser = new EventParser(this._hear);
      const reader = answer.body.getReader();
      for (;;) {
        const { value, done } = await reader.read();
        if (done) {
          break;
        }
        clearTimeout(timer);
        timer = setTimeout(() => stop.abort(), SILENT_MS);
        heard = true;
        this.heardMs = performance.now();
        this._becomes("open");
        parser.feed(value);
      }
    } catch (error) {
      // Cut off, or given up after a silence.
    } finally {
      clearTimeout(timer);
      stop.abort();
    }
    this._becomes("cut");
    return { heard, waitMs: 0 };
  }

  _end() {
    if (this._stop) {
      this._stop.abort();
    }
  }

  _becomes(is) {
    if (this.is !== is) {
      this.is = is;
      this._changed(is);
    }
  }
}
