// Draws a match: field and frame behind, the rows of words in front, as large as they fit.

const CAP = 0.716;                         // height of capitals, of the letters' size (Arial, Helvetica; measured)
const ABOVE = 0.78;                        // what a line as close as the word's leaves above its baseline (measured)
const MARGIN = 0.02;                       // of the unit, around all words

function unitFor(width, height) {
  return Math.min(height, 1.15 * width);
}

function css([red, green, blue]) {
  return "rgb(" + red + "," + green + "," + blue + ")";
}

class View {
  // `unitOf` returns the unit of the rows' sizes, in pixels; `groundOf` the colour where nothing shows. While a look
  // shows, the ground is dark.
  constructor(root, rows, unitOf, groundOf = () => DARK) {
    this._sizes = rows;
    this._unitOf = unitOf;
    this._groundOf = groundOf;
    this._stage = root.querySelector("#stage");
    this._field = root.querySelector("#field");
    this._hole = root.querySelector("#hole");
    this._plate = root.querySelector("#plate");
    this._rows = new Map(Object.keys(rows).map((id) => [id, root.querySelector("#" + id)]));
    this._canvas = document.createElement("canvas").getContext("2d");
    const style = getComputedStyle(this._plate);
    this._family = style.fontFamily;
    this._padding = parseFloat(style.paddingLeft) + parseFloat(style.paddingRight);
    this._guard = new FlashGuard(9);
    this._texts = new Map();
    this._shape = "";
    this._look = null;
    this._drawn = "";
  }

  // Show rows ({id: text}), the look behind them or null, and whether digits move.
  show(texts, look, letters, moving, nowNs) {
    const frames = this._size();
    this._write(texts, frames, look);
    this._rows.get("digits").classList.toggle("stands", !moving);
    this._rows.get("cueDigits").classList.toggle("stands", !moving);
    const admitted = this._admitted(look, nowNs);
    this._draw(admitted, frames.thick);
    this._rows.get("word").style.color = css(this._isDark(admitted) ? letters : DARK);
  }

  // Forget what was laid out: the window or its fonts are others.
  stale() {
    this._shape = "";
    this._drawn = "";
  }

  _size() {
    const width = this._stage.clientWidth;
    const height = this._stage.clientHeight;
    return { width, height, unit: this._unitOf(), thick: thicknessOf(width, height) };
  }

  _admitted(look, nowNs) {
    const ground = all(look && !look.stays && showsColours(look) ? DARK : this._groundOf());
    const field = look && look.full ? look.colours : ground;
    const frame = look && showsColours(look) ? look.colours : ground;
    // The plate is a region of its own, since it turns dark too where the ground is not.
    const wanted = [...field, ...frame, ground[0]];
    if (this._guard.admit(nowNs, wanted) === wanted) {
      this._look = look;
    }
    return this._look;
  }

  _draw(look, thick) {
    const shows = look !== null && showsColours(look);
    const inset = shows && !look.full ? this._outline(look.progress, thick) : { top: 0, right: 0, bottom: 0, left: 0 };
    const drawn = JSON.stringify([shows && look, inset, thick]);
    if (drawn === this._drawn) {
      return;
    }
    this._drawn = drawn;
    this._stage.classList.toggle("cue", shows && !look.stays);
    this._field.hidden = !shows;
    this._hole.hidden = !shows || look.full;
    if (!shows) {
      return;
    }
    this._field.style.background = this._ground(look.colours.map(css), inset);
    const edges = [inset.top, inset.right, inset.bottom, inset.left];
    // Clipped, not moved: stripes stand still while the frame closes in.
    const clip = "inset(" + edges.map((px) => px + "px").join(" ") + ")";
    this._field.style.webkitClipPath = clip;
    this._field.style.clipPath = clip;
    ["top", "right", "bottom", "left"].forEach((edge) => { this._hole.style[edge] = inset[edge] + thick + "px"; });
  }

  // Whether what is behind the words is dark.
  _isDark(look) {
    return this._groundOf() === DARK || (look !== null && showsColours(look) && !look.stays);
  }

  // The ground of a field or a frame in four colours: one, or stripes, or two sides and a middle.
  _ground([one, other, middle], inset) {
    const { clientWidth: width, clientHeight: height } = this._stage;
    if (one === other && one !== middle) {
      const side = Math.round((width - inset.left - inset.right) * SIDE_SHARE);
      const [left, right] = [inset.left + side, width - inset.right - side];
      const parts = [one + " 0 " + left + "px", middle + " " + left + "px " + right + "px", one + " " + right + "px"];
      return "linear-gradient(90deg," + parts.join(",") + ")";
    }
    const wide = Math.max(2, Math.round(Math.min(width, height) * STRIPE_SHARE));
    const stripes = one + " 0 " + wide + "px," + other + " " + wide + "px " + 2 * wide + "px";
    return one === other ? one : "repeating-linear-gradient(135deg," + stripes + ")";
  }

  _outline(progress, thick) {
    return outlineOf(this._stage.getBoundingClientRect(), this._plate.getBoundingClientRect(), thick, progress);
  }

  // Put texts into their rows; lay them out anew when more than digits has changed.
  _write(texts, frames, look) {
    const framed = look !== null;
    const between = framed && look.between;
    const shape = JSON.stringify([texts, frames, framed, between]).replace(/\d/g, "0") + [frames.width, frames.height];
    if (shape !== this._shape) {
      this._shape = shape;
      this._lay(texts, frames, framed, between);
    }
    for (const [id, element] of this._rows) {
      const text = texts[id] || "";
      if (this._texts.get(id) !== text) {
        this._texts.set(id, text);
        fill(element, text, element.lineBreaks);
      }
    }
  }

  _lay(texts, frames, framed, between) {
    const air = Math.round(MARGIN * frames.unit);
    const edge = (framed ? frames.thick : 0) + air;
    const side = between ? Math.round(frames.width * SIDE_SHARE) + air : edge;
    const room = { width: frames.width - 2 * Math.max(edge, side), height: frames.height - 2 * edge };
    this._plate.style.maxWidth = room.width + "px";
    this._texts.clear();
    for (let scale = 1; scale > 0.2; scale *= 0.95) {
      for (const [id, element] of this._rows) {
        this._layRow(id, element, texts[id] || "", room.width, frames.unit * scale);
      }
      if (this._plate.offsetHeight <= room.height) {
        return;
      }
    }
  }

  _layRow(id, element, text, width, unit) {
    const { size, most, line, least } = this._sizes[id];
    element.hidden = text === "";
    if (element.hidden) {
      return;
    }
    const px = Math.max(size * unit, least || 0);
    this._canvas.font = "700 " + px + "px " + this._family;
    const inner = width - Math.max(this._padding, 2 * Math.round(MARGIN * unit));
    const best = broken(text, most, inner, (part) => this._canvas.measureText(part.replace(/\d/g, "0")).width);
    element.lineBreaks = best.lines;
    element.style.fontSize = Math.floor(px * Math.min(1, inner / best.width)) + "px";
    // Accents on capitals would leave the plate, or meet the line above. Half of what a line gains is above letters.
    const tall = this._canvas.measureText(text).actualBoundingBoxAscent / px;
    const room = ABOVE + (line - this._sizes.word.line) / 2;
    element.style.lineHeight = line + 2 * Math.max(0, tall - room);
    fill(element, text, best.lines);
  }
}

function showsColours(look) {
  return look.full || look.progress !== null;
}

// Break a text into at most `most` lines so that the widest is as narrow as it need be: {lines: words in each, width}.
function broken(text, most, room, widthOf) {
  const words = text.split(" ");
  let best = null;
  for (let count = 1; count <= Math.min(most, words.length); count += 1) {
    for (const lines of splits(words.length, count)) {
      let at = 0;
      const widths = lines.map((length) => widthOf(words.slice(at, (at += length)).join(" ")));
      const width = Math.max(...widths);
      if (best === null || width < best.width) {
        best = { lines, width };
      }
    }
    if (best.width <= room) {
      break;
    }
  }
  return best;
}

// All ways to lay `words` words in `lines` lines, as the number of words in each.
function splits(words, lines) {
  if (lines === 1) {
    return [[words]];
  }
  const found = [];
  for (let first = 1; first <= words - lines + 1; first += 1) {
    splits(words - first, lines - 1).forEach((rest) => found.push([first, ...rest]));
  }
  return found;
}

function fill(element, text, lines) {
  const words = text.split(" ");
  const parts = [];
  let at = 0;
  for (const length of lines || [words.length]) {
    if (parts.length) {
      parts.push(document.createElement("br"));
    }
    // No point in the middle that would stand between two texts is left hanging at a line's end.
    parts.push(words.slice(at, (at += length)).join(" ").replace(/[\s·]+$/, "") + (at < words.length ? " " : ""));
  }
  element.textContent = "";
  element.append(...parts);
}
