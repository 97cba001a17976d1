// Who this board is and what it may do: its own name, its token. The token comes in the part of an address that no
// browser sends, is kept by this phone, and is taken out of the address at once.

const ID_KEY = "tocsin.board.id";
const TOKEN_KEY = "tocsin.board.token";

class Rights {
  // `storage` keeps texts by name, even if only until the page is closed.
  constructor(storage) {
    this._storage = storage;
    this.id = storage.getItem(ID_KEY) || randomId();
    storage.setItem(ID_KEY, this.id);
    this.token = storage.getItem(TOKEN_KEY) || "";
    this.secret = "";
    this.read();
  }

  get headers() {
    return { "Tocsin-Board": this.id, ...(this.token ? { Authorization: "Bearer " + this.token } : {}) };
  }

  // Take a token or a secret out of the address; return whether there was one.
  read() {
    const found = /^#([tg])=([\w-]+)$/.exec(location.hash);
    if (location.hash) {
      history.replaceState(null, "", location.pathname + location.search);
    }
    if (found && found[1] === "t") {
      this._take(found[2]);
    } else if (found) {
      this.secret = found[2];
    }
    return found !== null;
  }

  // Let the second code give its right to this board; `ask` puts a question to the laptop. Returns a sentence if it
  // did not.
  async claim(ask) {
    const secret = this.secret;
    this.secret = "";
    if (!secret) {
      return "";
    }
    try {
      this._take((await ask("POST", "api/1/rights", { secret })).token);
      return "";
    } catch (refusal) {
      return refusal.message || tr("This code was for ten seconds and for one phone: scan a new one");
    }
  }

  _take(token) {
    this.token = token;
    this._storage.setItem(TOKEN_KEY, token);
  }
}

// 32 hexadecimal digits that nobody else has. (A page over http has no randomUUID.)
function randomId() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

// What this browser keeps for this page, or, where it keeps nothing, the same until the page is closed.
function keptOrNot() {
  try {
    localStorage.setItem("tocsin.board", "try");
    localStorage.removeItem("tocsin.board");
    return localStorage;
  } catch (error) {
    const kept = new Map();
    return {
      getItem: (name) => (kept.has(name) ? kept.get(name) : null),
      setItem: (name, text) => kept.set(name, text),
      removeItem: (name) => kept.delete(name),
    };
  }
}
