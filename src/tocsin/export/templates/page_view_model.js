// What the page says at a moment, as words: period, digits, open windows, what comes next and when.

const MOST_AHEAD = 2;                      // more than two things to come are not read in a match
const REPEAT_NS = 10 * NS_PER_S;           // equal words closer to each other than this are one thing to come

class ViewModelMaker {
  constructor(timeline) {
    this._timeline = timeline;
    this._landmarks = landmarksOf(timeline);
  }

  // {title, digits, moving, windows, ahead, prompt} at `nowNs` of a match that was started. Texts may be empty;
  // `moving` is false while digits stand.
  at(match, nowNs) {
    const atNs = match.heldNs === null ? nowNs : match.heldNs;
    if (match.phase === "waiting") {
      const number = Math.ceil((match.startsNs - atNs) / NS_PER_S);
      return this._viewModel(tr("Match begins in"), String(Math.max(1, number)), { moving: true });
    }
    if (match.phase === "over") {
      return this._viewModel(tr("Match over"), this._digits(0));
    }
    return this._running(match, atNs);
  }

  _running(match, atNs) {
    const elapsed = match.elapsed(atNs);
    const reading = this._timeline.at(elapsed);
    const held = match.phase === "held";
    const slot = this._period(reading.period);
    const waiting = this._waiting(reading, slot);
    let leftNs = reading.over ? 0 : reading.leftNs;
    if (waiting !== null && slot === null) {
      leftNs = waiting.end_ns === null ? null : waiting.end_ns - waiting.begin_ns;
    }
    const title = slot ? slot.title : waiting ? waiting.title : "";
    return this._viewModel(held ? heldTitle(title) : title, this._digits(leftNs), {
      moving: !held && !reading.over && slot !== null && leftNs !== null,
      windows: reading.windows.map((key) => this._windowTitle(key)),
      ahead: this._ahead(match.variant, elapsed, match.given),
      prompt: waiting !== null && !held ? tr("{title}: press when it begins", { title: waiting.title }) : "",
    });
  }

  _viewModel(title, digits, rest) {
    return { title, digits, moving: false, windows: [], ahead: [], prompt: "", ...rest };
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
  _ahead(variant, elapsed, given) {
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

function heldTitle(title) {
  return title ? tr("HELD – {title}", { title }) : tr("HELD");
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
