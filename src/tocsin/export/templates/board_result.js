// Puts a round's result onto the board, as large as it fits.

const SVG = "http://www.w3.org/2000/svg";
const LARGEST = 1.3;                       // an upright phone has more height than the unit
const LABELS = 0.85;                       // of the unit, what the bar goes by: it is narrow
const LETTER_OF_LINE = 0.85;               // size of letters, of the height of a label's line

const INKS = new Map([
  [WHITE, "ink"], [DARK, "ground"], [ORANGE, "warn"], [YELLOW, "strong"], [BLUE, "calm"], [GREY, "edge"],
]);

class ResultView {
  constructor(root) {
    this._stage = root.querySelector("#stage");
    this._round = root.querySelector("#round");
    this._find = (name) => root.querySelector("#round-" + name);
    this._canvas = document.createElement("canvas").getContext("2d");
    this._drawn = "";
  }

  // Show a picture with the sentences that stand below it, or null for none.
  show(picture, said) {
    this._round.hidden = picture === null;
    if (picture === null) {
      this._drawn = "";
      return;
    }
    const size = [this._stage.clientWidth, this._stage.clientHeight];
    const drawn = JSON.stringify([picture, said, size]);
    if (drawn === this._drawn) {
      return;
    }
    this._drawn = drawn;
    const texts = {
      title: picture.title, word: picture.word.toUpperCase(), number: picture.number,
      said: [picture.reason, picture.dealt].filter(Boolean).join(". "), tally: picture.tally, ...said,
    };
    for (const [name, text] of Object.entries(texts)) {
      this._find(name).textContent = text || "";
      this._find(name).hidden = !text;
    }
    this._fit(picture, ...size);
  }

  _fit(picture, width, height) {
    const verdict = this._find("shape").parentElement;
    const fits = () => verdict.scrollWidth <= verdict.clientWidth;
    let large = LARGEST * unitFor(width, height);
    for (let unit = large; unit > 0.3 * unitFor(width, height); unit *= 0.95) {
      this._round.style.setProperty("--unit", unit + "px");
      for (large = Math.min(large, unit); large > 0.3 * unit; large *= 0.95) {
        verdict.style.setProperty("--large", large + "px");
        if (fits()) {
          break;
        }
      }
      // Larger labels would leave some of them no room.
      const least = LEAST / LETTER_OF_LINE / LABEL + 1;
      const labels = Math.max(least, Math.min(unit, LABELS * unitFor(width, height)));
      this._bar(picture, width, Math.round(Math.max(0.3 * unit, 0.33 * least)), labels);
      if (this._round.offsetHeight <= height) {
        break;
      }
    }
    const side = Math.round(this._find("shape").clientWidth);
    const box = { x: 0, y: 0, w: side, h: side };
    drawInto(this._find("shape"), box, verdictShapes(picture.shape, box), []);
  }

  _bar(picture, width, height, unit) {
    const measure = (text) => {
      this._canvas.font = "100px " + getComputedStyle(this._round).fontFamily;
      return (this._canvas.measureText(text).width / 100) * LETTER_OF_LINE;
    };
    const box = { x: 0, y: 0, w: width - 16, h: picture.edge ? height : Math.round(0.12 * unit) };
    const { words, shapes } = barOf(picture, box, unit, measure);
    const bar = this._find("bar");
    drawInto(bar, box, shapes, words.map((word) => ({ ...word, fits: measure(word.text) })));
    bar.setAttribute("aria-label", inWords(picture));
  }
}

// What a bar shows, for those who listen to it.
function inWords({ edge, instants, pushes }) {
  const at = (what, seconds) => tr("{what} at {seconds} s", { what, seconds: seconds.toFixed(1) });
  const happened = instants.map((one) => at(HAPPENED[one.what], one.at_s));
  const touched = pushes.map((one) => at(PUSH, one.begin_s));
  return [...(edge ? [at(edge, 0)] : [tr("rounds so far")]), ...happened, ...touched].join(", ");
}

// Draw shapes and words into an SVG element of this size.
function drawInto(element, { w, h }, shapes, words) {
  element.setAttribute("viewBox", "0 0 " + w + " " + h);
  element.setAttribute("width", w);
  element.setAttribute("height", h);
  element.textContent = "";
  element.append(...shapes.map(shapeElement), ...words.map(wordElement));
}

// A colour of the window in the look of this phone.
function inkOf(colour) {
  return "var(--" + INKS.get(colour) + ")";
}

function shapeElement({ kind, points, colour, width, radius }) {
  const found = document.createElementNS(SVG, { disc: "circle", line: "line", polygon: "polygon" }[kind]);
  const filled = kind !== "line" && !width;
  const places = {
    disc: () => ({ cx: points[0][0], cy: points[0][1], r: filled ? radius : radius - width / 2 }),
    line: () => ({ x1: points[0][0], y1: points[0][1], x2: points[1][0], y2: points[1][1] }),
    polygon: () => ({ points: points.map((point) => point.join(",")).join(" ") }),
  };
  Object.entries(places[kind]()).forEach(([name, value]) => found.setAttribute(name, value));
  Object.assign(found.style, filled ? { fill: inkOf(colour) } : { fill: "none", stroke: inkOf(colour), strokeWidth: width });
  return found;
}

function wordElement({ text, box, colour, fits }) {
  const found = document.createElementNS(SVG, "text");
  const size = Math.max(LEAST, LETTER_OF_LINE * Math.min(box.h, box.w / fits));
  const facts = {
    x: box.x + box.w / 2, y: box.y + box.h / 2, "text-anchor": "middle", "dominant-baseline": "central",
    "font-size": size,
  };
  Object.entries(facts).forEach(([name, value]) => found.setAttribute(name, value));
  found.style.fill = inkOf(colour);
  found.textContent = text;
  return found;
}
