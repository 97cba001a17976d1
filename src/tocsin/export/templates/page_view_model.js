// What stands on a screen at a moment, as words: period, digits, open windows, what comes next and when. It says the
// same as the window of the program that made this page.

const MOST_AHEAD = 2;                      // more than two things to come are not read in a match
const REPEAT_NS = 10 * NS_PER_S;           // equal words closer to each other than this are one thing to come
const STAY_OUTSIDE = [tr("Stay outside"), tr("until the person at the robot's stop says so")];
const STILL_OUTSIDE = tr("Stay outside until the person at the stop says so");
// How a person presses, by what a match is started by.
const STARTS_BY = {
  count_in: (facts) => tr("Press {key}: {count} count-in", facts),
  countdown: (facts) => tr("Press {key} as the countdown ends", facts),
  horn: (facts) => tr("Press {key} at the start signal", facts),
  press: (facts) => tr("Press {key} as the match starts", facts),
};

class ViewModelMaker {
  constructor(timeline) {
    this._timeline = timeline;
    this._landmarks = landmarksOf(timeline);
  }

  // {stage, title, digits, moving, sign, windows, ahead, awaits, prompt, clear, outside, tells} at `nowNs`. `status` is
  // PLAIN with {phase, origins, heldNs, variant, given}; `keys` are {action, key}. Texts may be empty; `stage` is what
  // is shown: standby, match or over; `moving` is false while digits stand; `awaits` is the title of a period that a
  // person has to begin; `tells`: the result may be told.
  at(status, nowNs) {
    const atNs = status.phase === "held" && status.heldNs !== null ? status.heldNs : nowNs;
    const known = status.origins.known;
    if (["standby", "scrapped"].includes(status.phase) || !known.has(MATCH)) {
      return this._standby(status, atNs);
    }
    const leftNs = beginsNs(status, known) - atNs;
    if (leftNs > 0) {
      return this._countIn(status, leftNs);
    }
    const elapsed = status.origins.elapsed(atNs);
    const reading = this._timeline.at(elapsed);
    if (status.phase === "over" || reading.ended) {
      return this._over(status, nowNs);
    }
    return this._match(status, elapsed, reading);
  }

  _over(status, nowNs) {
    const title = status.ofMatch ? tr("Match over") : tr("Over");
    if (status.outsideUntilNs !== null && nowNs < status.outsideUntilNs) {
      const prompt = status.hasResult ? "" : status.ask;
      return this._view(status, { stage: "over", title: tr("Match over"), sign: STAY_OUTSIDE, prompt, tells: false });
    }
    const digits = status.ofMatch ? this._digits(0) : "";
    const prompt = status.ask || pressed(status, tr("next match"), "start");
    return this._view(status, { stage: "over", title, digits, prompt });
  }

  _standby(status, nowNs) {
    const key = keyFor(status, "start");
    const count = Math.ceil(status.start.countInNs / NS_PER_S) + " s";
    const scrapped = status.phase === "scrapped";
    const starts = key ? STARTS_BY[status.start.by]({ key, count }) : "";
    const left = Math.ceil(Math.max(0, (status.clearUntilNs || nowNs) - nowNs) / NS_PER_S);
    return this._view(status, {
      stage: "standby",
      title: scrapped ? tr("Cancelled") : tr("Standby"),
      digits: this._firstDigits(status),
      prompt: status.ask || (scrapped ? pressed(status, tr("next match"), "start") : starts),
      clear: left ? tr("Field clear: start within {left} s", { left }) : "",
    });
  }

  _countIn(status, leftNs) {
    const held = status.phase === "held";
    const countedNs = leftNs - status.behindNs;
    const counts = countedNs > 0;          // else all has been counted, and the start is late
    return this._view(status, {
      title: held ? tr("HELD") : beginsTitle(status, counts),
      digits: counts ? String(Math.ceil(countedNs / NS_PER_S)) : this._firstDigits(status),
      moving: counts && !held,
      sign: counts ? [] : signOf(status),
      prompt: held ? resumes(status) : "",
    });
  }

  // What the official display shows at the start, if that may be seen; without a match there is none.
  _firstDigits({ ofMatch, shows, begins }) {
    if (!ofMatch || !shows.includes("clock")) {
      return "";
    }
    return this._digits(this._timeline.at(new Map([[MATCH, 0], [begins.anchor, begins.offset_ns]])).leftNs);
  }

  _match(status, elapsed, reading) {
    const held = status.phase === "held";
    const slot = this._period(reading.period);
    const waiting = this._waiting(reading, slot);
    let leftNs = reading.over ? 0 : reading.leftNs;
    if (waiting !== null && slot === null) {
      leftNs = waiting.end_ns === null ? null : waiting.end_ns - waiting.begin_ns;
    }
    const title = slot ? slot.title : waiting ? waiting.title : "";
    const clock = status.shows.includes("clock");
    return this._view(status, {
      title: held ? heldTitle(title) : title,
      digits: clock ? this._digits(leftNs) : "",
      moving: clock && !held && !reading.over && slot !== null && leftNs !== null,
      sign: signOf(status),
      // Where nothing is shown of the future, one might count from a window.
      windows: status.shows.length ? reading.windows.map((key) => this._windowTitle(key)) : [],
      ahead: status.ofMatch && status.shows.includes("ahead") ? this._ahead(status, elapsed) : [],
      awaits: waiting !== null && !held ? waiting.title : "",
      prompt: held ? resumes(status) : status.ofMatch ? this._prompt(status, waiting) : status.ask,
    });
  }

  _prompt(status, waiting) {
    return waiting ? pressed(status, tr("{title} begins", { title: waiting.title }), "begin") : unsure(status);
  }

  _view(status, rest) {
    const found = {
      stage: "match", title: "", digits: "", moving: false, sign: [], windows: [], ahead: [], awaits: "", prompt: "",
      clear: "", tells: true, ...rest,
    };
    const stays = status.phase === "over" && status.keepsOut && !found.sign.length;
    return { ...found, prompt: typing(status) || found.prompt, outside: stays ? STILL_OUTSIDE : "" };
  }

  _period(id) {
    return this._timeline.periods.find((slot) => slot.id === id) || null;
  }

  _windowTitle(key) {
    return this._timeline.windows.find((span) => span.key === key).title;
  }

  // The period that a person has to begin, if the match waits for that.
  _waiting(reading, slot) {
    if (reading.awaits) {
      return this._period(reading.awaits);
    }
    const open = slot !== null && slot.end_ns === null;
    return open ? this._timeline.periods[this._timeline.periods.indexOf(slot) + 1] || null : null;
  }

  // The next landmarks, one for each instant, as lines: "HOME in 12 s".
  _ahead({ variant: chosen, given }, elapsed) {
    const variant = chosen || this._timeline.defaultVariant;
    const coming = new Map();
    for (const { point, what, when, no } of this._landmarks) {
      const leftNs = elapsed.has(point.anchor) ? point.offset_ns - elapsed.get(point.anchor) : 0;
      const comes = leftNs > 0 && ["", variant].includes(when) && !given.includes(no);
      if (comes && !coming.has(leftNs) && !this._passesBefore(point.anchor, leftNs, elapsed)) {
        coming.set(leftNs, what);
      }
    }
    const times = [...coming.keys()].sort((a, b) => a - b).slice(0, MOST_AHEAD);
    return times.map((leftNs) => tr("{what} in {wait}", { what: coming.get(leftNs), wait: this._wait(leftNs) }));
  }

  // Whether a segment passes before so much match time has, since a later one begins by then.
  _passesBefore(anchor, leftNs, elapsed) {
    const rank = this._timeline.rank(anchor);
    const later = (other) => rank >= 0 && this._timeline.rank(other) > rank;
    return [...elapsed].some(([other, ns]) => later(other) && -ns <= leftNs);
  }

  _digits(leftNs) {
    return leftNs === null ? "" : official(leftNs, this._timeline.digits);
  }

  _wait(leftNs) {
    const text = official(leftNs, this._timeline.digits);
    return text.startsWith("0:") ? Number(text.slice(2)) + " s" : text;
  }
}

// When the clock begins, or began: a match that starts in its middle has an origin in the past.
function beginsNs(status, known) {
  const starts = ["waiting", "held"].includes(status.phase) ? [...known.values()].map((one) => one.startsNs) : [];
  return Math.max(known.get(MATCH).originNs, ...starts);
}

function beginsTitle({ ofMatch }, counts) {
  if (ofMatch) {
    return counts ? tr("Match begins in") : tr("Match begins");
  }
  return counts ? tr("Begins in") : tr("Begins");
}

function heldTitle(title) {
  return title ? tr("HELD – {title}", { title }) : tr("HELD");
}

function signOf({ shows, sign }) {
  return shows.includes("clock") ? [] : sign;
}

function keyFor({ keys }, action) {
  return (keys.find((one) => one.action === action) || { key: "" }).key;
}

function pressed(status, what, action) {
  const key = keyFor(status, action);
  return key ? tr("Press {key}: {what}", { key, what }) : "";
}

function resumes(status) {
  return pressed(status, tr("the clock goes on"), "hold");
}

// What somebody has to do who types the display's time at the laptop, or nothing.
function typing(status) {
  if (!status.typed) {
    return "";
  }
  if (status.typed.includes("_")) {
    return tr("Type what the display will show next");
  }
  const facts = { key: keyFor(status, "start"), typed: status.typed };
  return tr("Press {key} as the display changes to {typed}", facts);
}

function unsure({ earlyMs }) {
  const tie = earlyMs % 1000 === 250;      // the program rounds halves to even
  const early = ((tie ? earlyMs - 1 : earlyMs) / 1000).toFixed(1);
  return earlyMs ? tr("clock unsure: calls come {early} s early", { early }) : "";
}

// What may be said to come, as {point, what, when}; among equal places the first counts.
function landmarksOf(timeline) {
  const last = timeline.periods[timeline.periods.length - 1];
  const isEnd = (point) => point.anchor === last.anchor && point.offset_ns === last.end_ns;
  const found = wordsOf(timeline);
  const end = tr("End of the match");
  const add = (point, what) => found.push({ point, what, when: "" });
  timeline.windows.forEach((span) => add(span.begin, span.title));
  for (const slot of timeline.periods) {
    add({ anchor: slot.anchor, offset_ns: slot.begin_ns }, slot.kind === "settle" ? end : slot.title);
  }
  const ending = (span) => tr("{title} ends", { title: span.title });
  timeline.windows.filter((span) => !isEnd(span.end)).forEach((span) => add(span.end, ending(span)));
  if (last.end_ns !== null && last.kind !== "settle") {
    add({ anchor: last.anchor, offset_ns: last.end_ns }, end);
  }
  return found;
}

// The words of the cues; of equal words close together only one: the most important, or else the first. What only the
// coach's pad feels is a prompt to the coach: counted down, it would push out what the drivers await.
function wordsOf(timeline) {
  const shown = timeline.firings.filter((firing) => firing.channel === "screen");
  const all = (shown.length ? shown : timeline.firings).filter((firing) => !isPrompt(timeline, firing.cue));
  const said = [];
  for (const firing of all.sort((a, b) => b.priority - a.priority || a.no - b.no)) {
    if (firing.word && firing.match_ns !== null && !said.some((other) => repeats(firing, other))) {
      said.push(firing);
    }
  }
  said.sort((a, b) => a.no - b.no);
  return said.map(({ begin, word, when, no }) => ({ point: begin, what: word.toUpperCase(), when, no }));
}

function isPrompt(timeline, cue) {
  const felt = timeline.firings.filter((firing) => firing.cue === cue && firing.channel === "rumble");
  return felt.length > 0 && felt.every((firing) => firing.role === "coach");
}

function repeats(one, other) {
  const near = Math.abs(one.match_ns - other.match_ns) < REPEAT_NS;
  return near && one.word === other.word && (one.when === other.when || !(one.when && other.when));
}

// What stands on the screen while a cue shows.
function cueTexts(viewModel, shot) {
  const context = viewModel.windows.join("  ·  ") || viewModel.title;
  return { word: shot.firing.word.toUpperCase(), cueDigits: viewModel.digits, prompt: viewModel.prompt, context };
}
