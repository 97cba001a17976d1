// A round's result as the laptop's window draws it: the verdict large, the bar of the round, the rounds before it. What
// happened is told by shape and by words, never by colour alone: a push is a solid bar, the window in which touching
// costs points a field of upright lines, the edge a thick line, the verdict a tick, a cross, a ring or a question mark.

const LABEL = 0.047;                       // line height of the bar's labels, as a share of the unit
const LEVELS = 2;                          // how many lines of them there may be
const DOT = 0.015;                         // radius of a round's dot
const THICKEST = 0.12;                     // height of the bar
const STACK = 2;                           // dots at one place stand below each other, so many at the most
const FARTHEST_S = 12;                     // further from the edge nothing is drawn: it would make the rest too small
const ROOM_S = 1;
const [BLUE, GREY] = [[86, 180, 233], [128, 128, 128]];
const OF_SHAPE = { filled: WHITE, cross: ORANGE, open: WHITE, question: BLUE };
const [CALL_EDGE, END_EDGE, PUSH] = [tr("call"), tr("end of the match"), tr("push")];
const HAPPENED = {
  call: tr("call"), turn: tr("turn"), home: tr("home"), "half home": tr("half home"), end: tr("end"),
};
// What a round lacks that has no time at an edge.
const UNKNOWN = new Map([[CALL_EDGE, tr("no turn")], [END_EDGE, tr("not home")]]);

// Shapes are {kind, points, colour, width, radius}: a polygon, a line, or a disc around its point; width 0 is filled.
// Words are {name, text, box, colour}; boxes {x, y, w, h}, in pixels.
function shapeOf(kind, points, colour, width, radius) {
  return { kind, points, colour, width: width || 0, radius: radius || 0 };
}

function verdictShapes(shape, box) {
  const radius = Math.floor(0.36 * Math.min(box.w, box.h));
  const [x, y] = [box.x + Math.floor(box.w / 2), box.y + Math.floor(box.h / 2)];
  const thick = Math.max(2, Math.floor(radius / 4));
  const colour = OF_SHAPE[shape];
  if (shape === "cross") {
    return crossShapes([x, y], radius, thick, colour);
  }
  const disc = shapeOf("disc", [[x, y]], colour, shape === "filled" ? 0 : thick, radius);
  if (shape === "filled") {
    return [disc, ...tickShapes([x, y], radius, thick)];
  }
  return shape === "open" ? [disc] : [disc, ...questionShapes([x, y], Math.floor(0.6 * radius), thick, colour)];
}

function tickShapes([x, y], radius, thick) {
  const half = Math.floor(radius / 2);
  const corner = [x - Math.floor(half / 4), y + half];
  return [
    shapeOf("line", [[x - half, y + Math.floor(half / 6)], corner], DARK, thick),
    shapeOf("line", [corner, [x + half + Math.floor(half / 4), y - half]], DARK, thick),
  ];
}

function crossShapes([x, y], radius, thick, colour) {
  return [
    shapeOf("line", [[x - radius, y - radius], [x + radius, y + radius]], colour, thick),
    shapeOf("line", [[x - radius, y + radius], [x + radius, y - radius]], colour, thick),
  ];
}

function questionShapes([x, y], radius, thick, colour) {
  const hook = [[-0.5, -0.5], [-0.25, -0.9], [0.25, -0.9], [0.5, -0.5], [0, 0], [0, 0.4]];
  const corners = hook.map(([a, b]) => [x + Math.round(a * radius), y + Math.round(b * radius)]);
  const drawn = corners.slice(1).map((corner, n) => shapeOf("line", [corners[n], corner], colour, thick));
  const dot = Math.max(1, Math.floor(thick / 2));
  return [...drawn, shapeOf("disc", [[x, y + radius - dot]], colour, 0, dot)];
}

function dotShapes(shape, centre, radius) {
  const thick = Math.max(1, Math.floor(radius / 3));
  const colour = OF_SHAPE[shape];
  if (shape === "cross") {
    return crossShapes(centre, radius, thick, colour);
  }
  if (shape === "question") {
    return questionShapes(centre, radius, thick, colour);
  }
  return [shapeOf("disc", [centre], colour, shape === "filled" ? 0 : thick, radius)];
}

// What says that a round lies further out than the bar reaches.
function arrowShape([x, y], radius, side) {
  const at = x - side * 2 * radius;
  const half = Math.floor(radius / 2);
  return shapeOf("polygon", [[at, y - half], [at, y + half], [at + Math.floor((side * radius) / 2), y]], WHITE);
}

// What stands above the track at an instant: each kind has its own shape.
function markerShapes(what, x, track, size) {
  const half = Math.floor(size / 2);
  const [low, top, foot] = [track.y - 1, track.y - 1 - size, track.y + track.h];
  const line = shapeOf("line", [[x, low], [x, foot]], BLUE, 2);
  if (what === "call") {
    return [shapeOf("polygon", [[x - half, top], [x + half, top], [x, low]], BLUE), line];
  }
  if (what === "turn") {
    return [shapeOf("polygon", [[x + half, top], [x + half, low], [x - half, low - half]], BLUE), line];
  }
  if (what === "end") {
    return [shapeOf("line", [[x, top], [x, foot]], WHITE, 2)];
  }
  const house = [[x - half, low], [x - half, top + half], [x, top], [x + half, top + half], [x + half, low]];
  return [shapeOf("polygon", house, BLUE, what === "home" ? 0 : Math.max(1, Math.floor(size / 8))), line];
}

// From when to when a bar reaches, in seconds: all that happened near the edge, and each push in a window, with room.
function reachOf({ windows, pushes, instants, series, limit_s: limit }) {
  const ends = (span) => (span.end_s === null ? [span.begin_s] : [span.begin_s, span.end_s]);
  const lies = (push, one) => one.begin_s <= push.begin_s && (one.end_s === null || push.begin_s < one.end_s);
  const costs = (push) => windows.some((one) => lies(push, one));
  const times = [0, ...instants.map((one) => one.at_s), ...(limit === null ? [] : [limit])];
  times.push(...series.map((dot) => dot.at_s).filter((at) => at !== null), ...pushes.flatMap(ends));
  const near = times.filter((at) => Math.abs(at) <= FARTHEST_S);
  near.push(...pushes.filter(costs).flatMap(ends));
  return [Math.min(...near) - ROOM_S, Math.max(...near) + ROOM_S];
}

// The bar of a round with the rounds so far below it, as {words, shapes}; without an edge, the rounds alone.
// `measure` gives the width of a text in line heights.
function barOf(picture, box, unit, measure) {
  if (picture.edge) {
    return new RoundBar(picture, box, unit, measure).made();
  }
  return { words: [], shapes: rowOfDots(picture.series, box, unit) };
}

function rowOfDots(series, box, unit) {
  const radius = Math.max(3, Math.floor(1.6 * DOT * unit));
  const pitch = Math.min(4 * radius, Math.floor(box.w / Math.max(1, series.length)));
  const left = box.x + Math.floor((box.w - pitch * (series.length - 1)) / 2);
  const [y, size] = [box.y + Math.floor(box.h / 2), Math.min(radius, Math.floor(pitch / 3))];
  return series.flatMap((dot, n) => dotShapes(dot.shape, [left + n * pitch, y], size));
}

// One bar: seconds become pixels, labels get lines of their own.
class RoundBar {
  constructor(picture, box, unit, measure) {
    [this._picture, this._box, this._unit, this._measure] = [picture, box, unit, measure];
    [this._begin, this._end] = reachOf(picture);
    this._lacks = picture.series.some((dot) => dot.at_s === null);
    const aside = this._lacks ? Math.floor(0.12 * box.w) : 0;
    const edge = Math.floor(0.02 * box.w);
    [this._x0, this._x1] = [box.x + edge + aside, box.x + box.w - edge];
    this._line = Math.floor(LABEL * unit);
    const half = Math.floor(this._line / 2);
    const dots = STACK * Math.floor(2.3 * DOT * unit) + half;
    const height = Math.max(8, box.h - LEVELS * this._line - half - dots - this._line);
    this._track = {
      x: this._x0, y: box.y + LEVELS * this._line + half, w: this._x1 - this._x0,
      h: Math.min(height, Math.floor(THICKEST * unit)),
    };
    this._foot = this._track.y + this._track.h;
    this._middle = this._track.y + Math.floor(this._track.h / 2);
  }

  made() {
    const { words, shapes } = this._instants();
    return {
      words: [...words, ...this._below()],
      shapes: [...this._windows(), ...this._pushes(), this._edge(), ...shapes, ...this._dots()],
    };
  }

  _x(at) {
    const share = Math.min(1, Math.max(0, (at - this._begin) / (this._end - this._begin)));
    return this._x0 + Math.round(share * (this._x1 - this._x0));
  }

  _ends(span) {
    return [this._x(span.begin_s), this._x(span.end_s === null ? this._end : span.end_s)];
  }

  _seen(spans) {
    return spans.filter((span) => span.begin_s < this._end && (span.end_s === null || span.end_s > this._begin));
  }

  _shows(at) {
    return this._begin <= at && at <= this._end;
  }

  _windows() {
    const { x, y, w } = this._track;
    const found = [shapeOf("line", [[x, this._middle], [x + w, this._middle]], GREY, 2)];
    const step = Math.max(4, Math.floor(this._unit / 70));
    const thin = Math.max(1, Math.floor(step / 5));
    for (const span of this._seen(this._picture.windows)) {
      const [left, right] = this._ends(span);
      for (let at = left + step; at < right; at += step) {
        found.push(shapeOf("line", [[at, y], [at, this._foot - 1]], ORANGE, thin));
      }
      found.push(shapeOf("polygon", [[left, y], [right, y], [right, this._foot], [left, this._foot]], ORANGE, thin));
    }
    return found;
  }

  _pushes() {
    const { y, h } = this._track;
    const [top, high] = [y + Math.floor(h / 4), h - 2 * Math.floor(h / 4)];
    const found = [];
    for (const span of this._seen(this._picture.pushes)) {
      const [left, end] = this._ends(span);
      let right = Math.max(left + 4, end);
      if (span.end_s === null) {           // open: an arrow that points on
        const tip = [right, this._middle];
        right = Math.max(left + 1, right - high);
        found.push(shapeOf("polygon", [[right, y], tip, [right, this._foot]], WHITE));
      }
      found.push(shapeOf("polygon", [[left, top], [right, top], [right, top + high], [left, top + high]], WHITE));
    }
    return found;
  }

  _edge() {
    const [x, room] = [this._x(0), Math.floor(this._line / 3)];
    const wide = Math.max(3, Math.floor(this._unit / 120));
    return shapeOf("line", [[x, this._track.y - room], [x, this._foot + room]], YELLOW, wide);
  }

  _instants() {
    const { pushes, instants, limit_s: limit } = this._picture;
    const shapes = limit === null ? [] : this._limit(this._x(limit));
    const happened = instants.map(({ what, at_s: at }) => ({ name: what, text: HAPPENED[what], at }));
    if (limit !== null) {
      happened.push({ name: "limit", text: tr("limit"), at: limit });
    }
    happened.sort((one, other) => one.at - other.at);
    // A push is told by its bar too: its word takes what room the others leave.
    this._seen(pushes).forEach((span, n) => {
      happened.push({ name: "push " + n, text: PUSH, at: Math.max(span.begin_s, this._begin) });
    });
    const taken = Array.from({ length: LEVELS }, () => []);
    const words = happened.filter(({ at }) => this._shows(at)).map((label) => this._placed(label, taken));
    const size = Math.max(6, Math.floor(this._line / 2));
    instants.filter(({ at_s: at }) => this._shows(at)).forEach(({ what, at_s: at }) => {
      shapes.push(...markerShapes(what, this._x(at), this._track, size));
    });
    return { words: words.filter(Boolean), shapes };
  }

  // A label on the first line that has room for it, or null.
  _placed({ name, text, at }, taken) {
    const wide = this._wide(text);
    const { x, y, w } = this._box;
    const left = Math.min(Math.max(x, this._x(at) - Math.floor(wide / 2)), x + w - wide);
    const level = taken.findIndex((row) => row.every(([begin, end]) => left + wide <= begin || left >= end));
    if (level < 0) {
      return null;
    }
    taken[level].push([left, left + wide]);
    const box = { x: left, y: y + (LEVELS - 1 - level) * this._line, w: wide, h: this._line };
    return { name: "at " + name, text, box, colour: text === PUSH ? WHITE : BLUE };
  }

  _wide(text) {
    return Math.floor(this._measure(text) * this._line) + this._line;
  }

  // A broken line.
  _limit(x) {
    const step = Math.max(4, Math.floor(this._track.h / 5));
    const found = [];
    for (let y = this._track.y; y < this._foot; y += 2 * step) {
      const low = Math.min(y + step, this._foot);
      found.push(shapeOf("line", [[x, y], [x, low]], WHITE, Math.max(2, Math.floor(this._unit / 200))));
    }
    return found;
  }

  _below() {
    const { edge } = this._picture;
    const [low, wide] = [this._box.y + this._box.h - this._line, this._wide(edge)];
    const left = Math.min(Math.max(this._x0, this._x(0) - Math.floor(wide / 2)), this._x1 - wide);
    const [before, after] = edge === CALL_EDGE ? ["", tr("later")] : [tr("early"), tr("late")];
    const label = (name, text, x, w, colour) => ({ name, text, box: { x, y: low, w, h: this._line }, colour });
    const words = [label("edge", edge, left, wide, YELLOW)];
    const sides = [["early", before, this._x0, left], ["late", after, left + wide, this._x1]];
    for (const [name, text, begin, end] of sides) {
      if (text && end - begin > this._measure(text) * this._line + this._line) {
        words.push(label(name, text, begin, end - begin, WHITE));
      }
    }
    if (this._lacks) {
      const lacks = this._picture.series.filter((dot) => dot.at_s === null);
      const text = lacks.every(({ shape }) => shape === "question") ? tr("no mark") : UNKNOWN.get(edge) || tr("no push");
      words.push(label("unknown", text, this._box.x, this._x0 - this._box.x, WHITE));
    }
    return words;
  }

  _dots() {
    const { series } = this._picture;
    const radius = Math.max(3, Math.floor(DOT * this._unit));
    const top = this._foot + Math.floor(this._line / 3) + radius;
    const pitch = 2 * radius + 2;
    const taken = [];
    return series.flatMap((dot, number) => {
      const aside = this._box.x + Math.floor((this._x0 - this._box.x) / 2);
      const x = dot.at_s === null ? aside : this._x(dot.at_s);
      const rows = Array.from({ length: STACK }, (_, row) => top + row * pitch);
      const free = rows.find((y) => taken.every((other) => y !== other[1] || Math.abs(x - other[0]) > 2 * radius));
      const centre = [x, free === undefined ? top + (STACK - 1) * pitch : free];
      taken.push(centre);
      const found = dotShapes(dot.shape, centre, radius);
      if (dot.at_s !== null && !this._shows(dot.at_s)) {
        found.push(arrowShape(centre, radius, dot.at_s < 0 ? -1 : 1));
      }
      if (number === series.length - 1) {
        const ring = radius + Math.max(3, Math.floor(radius / 2));
        found.push(shapeOf("disc", [centre], YELLOW, Math.max(2, Math.floor(radius / 4)), ring));
      }
      return found;
    });
  }
}
