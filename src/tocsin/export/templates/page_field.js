// The colours of a cue: full field, then a frame of at most a fifth of the area; and the guard that lets no more than
// two flashes a second out, whatever a plan says.

const FRAME_SHARE = 0.18;                  // of the area
const STRIPE_SHARE = 0.11;                 // width of a stripe, of the shorter side
const SIDE_SHARE = 0.125;                  // width of either side, of a field's or a frame's width
const SWELL_LOW = 0.65;                    // a field that swells goes down to this share of its values ...
const SHORTEST_CYCLE_NS = NS_PER_S;        // ... slower than this, so that it cannot be taken for a flash
const BEAT_SHOWN_NS = 0.3 * NS_PER_S;      // how long the count-in's field shows each second
const DARK = [0, 0, 0];
const ORANGE = [230, 159, 0];
const YELLOW = [240, 228, 66];
const WHITE = [255, 255, 255];

// Four changes in a second are two flashes: changes that oppose each other lie at least this far apart.
const CHANGES_APART_NS = 0.25 * NS_PER_S;
const STEP = 0.1;                          // WCAG 2.2: a change of relative luminance of 0.10 ...
const BRIGHT = 0.8;                        // ... whose darker state is below 0.80

function linear(value) {
  const c = value / 255;
  return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
}

function luminance([red, green, blue]) {
  return 0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue);
}

function contrastOnBlack(colour) {
  return (luminance(colour) + 0.05) / 0.05;
}

// WCAG 2.2 on red flashes. No field and no frame is ever saturated red: it becomes orange.
function harmless(colour) {
  const [red, green, blue] = colour.map(linear);
  return red >= 0.01 && red / (red + green + blue) >= 0.8 ? ORANGE : colour;
}

// Letters: the plan's colour, or white where that would be hard to read on black.
function readable(colour) {
  return contrastOnBlack(colour) >= 7 ? colour : WHITE;
}

// The luminance of one region since its last turn. A turn is a change of STEP against the one before it.
class Swing {
  constructor() {
    this._low = 0;
    this._high = 0;
    this._direction = 0;
    this._changedNs = -Infinity;           // when the last change ended: a slow one counts until it is done
  }

  allows(nowNs, level) {
    return this._turn(level) === 0 || nowNs - this._changedNs >= CHANGES_APART_NS;
  }

  take(nowNs, level) {
    const turn = this._turn(level);
    const extends_ = (this._direction > 0 && level > this._high) || (this._direction < 0 && level < this._low);
    if (turn || extends_) {
      this._changedNs = nowNs;
    }
    if (turn) {
      this._direction = turn;
      this._low = level;
      this._high = level;
    }
    this._low = Math.min(this._low, level);
    this._high = Math.max(this._high, level);
  }

  _turn(level) {
    if (this._direction <= 0 && level - this._low >= STEP && this._low < BRIGHT) {
      return 1;
    }
    return this._direction >= 0 && this._high - level >= STEP && level < BRIGHT ? -1 : 0;
  }
}

// Lets colours out: all that are wanted, or, while one of the regions or their mean would flash too fast, those shown.
class FlashGuard {
  constructor(regions) {
    this.shown = Array(regions).fill(DARK);
    this._swings = Array.from({ length: regions + 1 }, () => new Swing());
  }

  admit(nowNs, colours) {
    const levels = colours.map(luminance);
    levels.push(levels.reduce((sum, level) => sum + level, 0) / colours.length);
    if (levels.every((level, n) => this._swings[n].allows(nowNs, level))) {
      this._swings.forEach((swing, n) => swing.take(nowNs, levels[n]));
      this.shown = colours;
    }
    return this.shown;
  }
}

// What a shot wants to show at `nowNs`: {colours, full, progress, between}. `colours` are the two of the stripes at the
// sides, then the two of those in the middle. `progress` is how far the frame has closed in, 0 to 1, null for none.
// `between`: the words stand between two blocks. `count` is how often the cue occurs. With `still` nothing moves.
function lookOf(shot, pattern, count, nowNs, still) {
  const colours = coloursOf(pattern, shot, nowNs, still);
  const full = pattern.field !== "none" && nowNs < shot.beginNs + pattern.full_ns;
  const between = pattern.field === "apart" && luminance(pattern.colours[1] || DARK) === 0;
  return { colours, full, progress: progressOf(pattern, shot, count, nowNs, still), between };
}

// A field or a frame in one colour.
function all(colour) {
  return [colour, colour, colour, colour];
}

function coloursOf(pattern, shot, nowNs, still) {
  const one = harmless(pattern.colours[0] || WHITE);
  const other = pattern.colours.length > 1 ? harmless(pattern.colours[1]) : DARK;
  const laid = { stripes: [one, other, one, other], apart: [one, one, other, other] }[pattern.field] || all(one);
  if (!pattern.cycle_ns || still) {
    return laid;
  }
  const cycleNs = Math.max(pattern.cycle_ns, SHORTEST_CYCLE_NS);
  const phase = ((nowNs - shot.beginNs) % cycleNs) / cycleNs;
  const light = SWELL_LOW + ((1 - SWELL_LOW) * (1 + Math.cos(2 * Math.PI * phase))) / 2;
  return laid.map((colour) => colour.map((value) => Math.round(value * light)));
}

function progressOf(pattern, shot, count, nowNs, still) {
  if (pattern.frame === "none") {
    return null;
  }
  if (pattern.frame === "steps") {
    return shot.firing.n / Math.max(1, count);
  }
  if (pattern.frame === "shrinks" && shot.endNs !== null && !still) {
    const share = (nowNs - shot.beginNs) / Math.max(1, shot.endNs - shot.beginNs);
    return Math.min(1, Math.max(0, share));
  }
  return 0;
}

// A strip's pattern as a frame, for a cue that has no pattern for the screen: this page has no strip.
function frameFromLight(light) {
  const two = light.form === "bands" && light.colours.length > 1;
  return {
    field: light.form === "apart" ? "apart" : two ? "stripes" : "plain",
    colours: light.colours,
    letters: light.colours[0],
    full_ns: 0,
    frame: light.form === "ebb" ? "shrinks" : "stands",
    cycle_ns: 0,
  };
}

// The beat of the count-in, once a second, the last one on the begin itself: a look, or null between two beats.
// `sinceNs` is the time since the match began, negative before.
function beatLook(sinceNs, still) {
  const beat = Math.floor(sinceNs / NS_PER_S);
  const shows = beat >= -BEATS && beat <= 0 && sinceNs - beat * NS_PER_S < BEAT_SHOWN_NS;
  return shows && !still ? { colours: all(YELLOW), full: true, progress: null, between: false } : null;
}

// How thick a frame along the edge of a field is, in pixels, so that it takes FRAME_SHARE of the area.
function thicknessOf(width, height) {
  const both = width + height;
  return Math.max(1, Math.floor((both - Math.sqrt(both * both - 4 * FRAME_SHARE * width * height)) / 4));
}

// How far a frame's outer edge lies within the field on each side: {top, right, bottom, left} in pixels. At progress 0
// it is the field's own edge; at 1 the frame lies close around the plate of the words.
function outlineOf(field, plate, thick, progress) {
  const share = (room) => Math.round(Math.max(0, room - thick) * progress);
  return {
    top: share(plate.top - field.top),
    right: share(field.right - plate.right),
    bottom: share(field.bottom - plate.bottom),
    left: share(plate.left - field.left),
  };
}
