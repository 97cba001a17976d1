// What happened, as JSON lines: marks with begin and end, every cue with its lateness, origins of the clock. Kept in
// memory, over a reload too if the browser allows it, and handed out as a file. Times are nanoseconds of this page's
// own monotonic clock; the header of each match says what the wall clock showed. The file begins with the files that
// this page was made from: who reads the record needs no others.

const RECORD_FORMAT = "tocsin-page/1";
const SPAN_NS = 300e6;                     // a key held for less is a point, not a span
const AGAIN_NS = 1.5e9;                    // taps closer than this are one statement
const LADDER = ["home", "home_half", "home_none"];
const SAID = {
  contact: tr("contact"),
  turned: tr("turned"),
  home: tr("home"),
  home_half: tr("home half"),
  home_none: tr("home none"),
};

class PageRecord {
  // `storage` is localStorage or null, `files` is what this page was made from: [{kind, name, sha256, text}].
  constructor(plan, storage, name, files) {
    this._plan = plan;
    this._files = files;
    this._storage = storage;
    this._name = name;
    this.lines = this._kept();
    this.keeps = storage !== null;
    this._fresh = this.lines.length;       // where the current match's lines begin
  }

  begin(nowNs, match) {
    this._fresh = this.lines.length;
    this._taps = new HomeTaps();
    this._add("header", nowNs, {
      format: RECORD_FORMAT,
      wall: new Date().toISOString(),
      game: this._plan.game.name,
      game_sha256: this._plan.game.sha256,
      plan: this._plan.plan.name,
      plan_sha256: this._plan.plan.sha256,
      made_by: this._plan.made_by,
      variant: match.variant,
      rate: match.rate,
      by: match.startedBy,
    });
  }

  origin(nowNs, origin, cause) {
    const { anchor, originNs, rate, instance, startsNs } = origin;
    this._add("origin", nowNs, { anchor, origin_ns: originNs, rate, cause, instance, starts_ns: startsNs });
  }

  held(nowNs) {
    this._add("state", nowNs, { states: ["held"], event: "hold", held_ns: nowNs });
  }

  variant(nowNs, variant) {
    this._add("state", nowNs, { event: "choose", variant });
  }

  // Keep a press as it was; return what it says. Who reads the record takes taps together as it is done here.
  mark(nowNs, label, beginNs, endNs, matchNs, source) {
    const open = endNs === null;
    const span = !open && endNs - beginNs >= SPAN_NS ? endNs : null;
    this._add("mark", nowNs, { label, begin_ns: beginNs, end_ns: span, match_ns: matchNs, source, open });
    return wordOf(open ? label : this._taps.tapped(label, beginNs).label);
  }

  // `lateNs` is null for what had no device to go to or was skipped; `by` says what it was given by.
  firing(nowNs, shot, outcome, why, lateNs, by) {
    const { cue, n, channel, role, begin, no } = shot.firing;
    this._add("firing", nowNs, {
      cue, n, channel, role, anchor: begin.anchor, due_ns: begin.offset_ns, match_ns: shot.firing.match_ns,
      late_ms: lateNs === null ? null : Math.round(lateNs / 1e3) / 1e3, outcome, why, no, instance: shot.instance,
      by: by || [],
    });
  }

  slept(nowNs, why) {
    this._add("fault", nowNs, { what: "slept", why });
  }

  end(nowNs, outcome) {
    this._add("end", nowNs, { outcome });
    this._keep();
  }

  // Words about the current match: how many cues, how late, how many marks.
  result() {
    const now = this.lines.slice(this._fresh);
    const firings = now.filter((line) => line.kind === "firing");
    const played = firings.filter((line) => line.outcome === "played");
    const late = played.map((line) => line.late_ms).filter((ms) => ms !== null);
    const missed = firings.filter((line) => line.why === "late").length;
    const marks = now.filter((line) => line.kind === "mark");
    const said = statementsOf(marks);
    const count = (label) => said.filter((one) => one === label).length;
    const counts = [...new Set(said)].map((label) => count(label) + " × " + wordOf(label));
    return [
      givenText(played.length, late.length ? Math.max(...late) : null),
      ...(missed ? [missedText(missed)] : []),
      counts.length ? tr("marks: {marks}", { marks: counts.join(", ") }) : tr("marks: none"),
    ];
  }

  // What is saved as a file.
  text() {
    return textOf([{ kind: "source", format: RECORD_FORMAT, files: this._files }, ...this.lines]);
  }

  forget() {
    this.lines = [];
    this._fresh = 0;
    this._keep();
  }

  _add(kind, nowNs, rest) {
    this.lines.push({ kind, at_ns: nowNs, ...rest });
    if (kind === "mark") {
      this._keep();                        // marks are what nobody can make again
    }
  }

  _kept() {
    try {
      const text = (this._storage && this._storage.getItem(this._name)) || "";
      return text.split("\n").filter(Boolean).map((line) => JSON.parse(line));
    } catch (error) {
      return [];
    }
  }

  _keep() {
    try {
      if (this._storage) {
        this._storage.setItem(this._name, textOf(this.lines));
      }
    } catch (error) {
      this.keeps = false;                  // full, or forbidden: the page says so
    }
  }
}

// Home full, half or none by how often its key was tapped on.
class HomeTaps {
  constructor() {
    this._home = "";
    this._homeNs = 0;
  }

  // What a press says, and whether it stands for the home before it.
  tapped(label, beginNs) {
    if (label !== LADDER[0]) {
      return { label, again: false };
    }
    const rung = LADDER.indexOf(this._home);
    const again = rung >= 0 && rung < LADDER.length - 1 && beginNs - this._homeNs < AGAIN_NS;
    this._home = again ? LADDER[rung + 1] : LADDER[0];
    this._homeNs = beginNs;
    return { label: this._home, again };
  }
}

// The labels of what marks say, in their order.
function statementsOf(marks) {
  const taps = new HomeTaps();
  return marks.reduce((said, line) => {
    const { label, again } = line.open ? { label: line.label, again: false } : taps.tapped(line.label, line.begin_ns);
    const before = again ? said.map((one) => LADDER.includes(one)).lastIndexOf(true) : -1;
    return [...said.filter((one, place) => place !== before), label];
  }, []);
}

function wordOf(label) {
  return SAID[label] || label.replace(/_/g, " ");
}

// How many signals were given, and the most by which one was late in ms, null if none of them can tell.
function givenText(count, latestMs) {
  return latestMs === null
    ? trn("{count} signal given", "{count} signals given", count)
    : trn(
      "{count} signal given, {latest} ms late",
      "{count} signals given, the latest {latest} ms late",
      count,
      { latest: latestMs.toFixed(0) },
    );
}

function missedText(count) {
  return trn(
    "{count} signal came too late to be given: keep this page in front",
    "{count} signals came too late to be given: keep this page in front",
    count,
  );
}

function textOf(lines) {
  return lines.map((line) => JSON.stringify(line) + "\n").join("");
}

// Hand a text out as a file, as a person would save it.
function saveFile(name, text) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "application/x-ndjson" }));
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60e3);
}

// Where a record is kept over a reload, or null.
function storageOf() {
  try {
    window.localStorage.setItem("tocsin.page", "try");
    window.localStorage.removeItem("tocsin.page");
    return window.localStorage;
  } catch (error) {
    return null;                           // forbidden to pages from disk, or in private windows
  }
}
