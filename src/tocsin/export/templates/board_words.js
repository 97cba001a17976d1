// The words on a board's plate: its rows, and what stands in them.

const CARD_LINES = 8;
const LEAST = 12;                          // pixels; smaller letters nobody reads in a hand
const BOARD_ROWS = {
  heading: { size: 0.036, most: 2, line: 1.25, least: LEAST },
  held: { size: 0.25, most: 1, line: 1 },
  title: { size: 0.1, most: 2, line: 1.1, least: LEAST },
  word: { size: 0.25 / CAP, most: 2, line: 0.86 },
  digits: { size: 0.5, most: 1, line: 0.9 },
  cueDigits: { size: 0.2, most: 1, line: 1 },
  sign0: { size: 0.25, most: 2, line: 1.05 },
  sign1: { size: 0.11, most: 3, line: 1.15 },
  typed: { size: 0.14, most: 1, line: 1.15 },
  ...rowsOf("card"),
  ...rowsOf("result"),
  outside: { size: 0.06, most: 2, line: 1.25 },
  video: { size: 0.045, most: 3, line: 1.25, least: LEAST },
  prompt: { size: 0.08, most: 3, line: 1.15 },
  clear: { size: 0.075, most: 2, line: 1.2 },
  windows: { size: 0.075, most: 2, line: 1.2 },
  ahead0: { size: 0.08, most: 2, line: 1.25, least: LEAST },
  ahead1: { size: 0.055, most: 2, line: 1.3, least: LEAST },
  context: { size: 0.055, most: 2, line: 1.3, least: LEAST },
  notice: { size: 0.05, most: 3, line: 1.25, least: LEAST },
};

// The rows of lines of which the first is the largest.
function rowsOf(what) {
  const sizeOf = (n) => ({ size: n ? 0.055 : 0.07, most: 3, line: 1.25 });
  return Object.fromEntries(Array.from({ length: CARD_LINES }, (_, n) => [what + n, sizeOf(n)]));
}

function rowsInto(plate) {
  for (const id of Object.keys(BOARD_ROWS)) {
    const row = document.createElement({ heading: "h1", title: "h2", digits: "div", cueDigits: "div" }[id] || "p");
    row.id = id;
    row.hidden = true;
    if (row.tagName === "DIV") {
      row.setAttribute("role", "timer");
      row.setAttribute("aria-label", tr("Left"));
    }
    plate.append(row);
  }
}

// The rows of the plate while no cue shows.
function textsOf(viewModel, { state, timeline }) {
  const { view, status } = state;
  const standby = viewModel.stage === "standby";
  const card = standby ? status.card : [];
  const result = viewModel.stage === "over" && viewModel.tells ? status.result.map(forPhone) : [];
  // The laptop's title of a match that is held: the word, then what is held.
  const [held, ...what] = viewModel.stage === "match" && status.phase === "held" ? viewModel.title.split(" – ") : [""];
  const digits = card.length || result.length ? "" : viewModel.digits;
  const name = timeline.variants.length ? (status.variant || timeline.defaultVariant).replace(/_/g, " ") : "";
  const texts = {
    heading: [view.heading, ...(name ? [tr("variant {name}", { name })] : [])].join("  ·  "),
    held,
    title: held ? [...what, tr("the clock stands")].join("  ·  ")
      : card.length && viewModel.digits ? viewModel.title + "  ·  " + viewModel.digits : viewModel.title,
    [viewModel.stage === "match" ? "digits" : "cueDigits"]: digits,
    sign0: viewModel.sign[0],
    sign1: viewModel.sign[1],
    typed: status.typed ? tr("Display  {typed}", { typed: status.typed }) : "",
    outside: viewModel.outside,
    video: result.length ? forPhone(status.video) : "",
    prompt: viewModel.prompt,
    clear: viewModel.clear,
    windows: viewModel.windows.join("  ·  "),
    ahead0: viewModel.ahead[0],
    ahead1: viewModel.ahead[1],
    notice: status.notice,
  };
  card.forEach((line, n) => { texts["card" + n] = line; });
  result.forEach((line, n) => { texts["result" + n] = line; });
  return texts;
}

// The rows once nobody leads any more: why, and what was reached. What was to come next does not come.
function awayTexts(viewModel, mirror) {
  const [title, ...more] = mirror.away.split(". ");
  const { status } = mirror.state;
  const found = Object.entries(textsOf(viewModel, mirror)).filter(([id]) => /^(heading|result|video)/.test(id));
  const outside = status.phase === "over" && status.keeps_out ? STILL_OUTSIDE : "";
  return { ...Object.fromEntries(found), title, ahead0: more.join(". "), outside };
}

// A line of the laptop without what is typed there.
function forPhone(text) {
  return /\btocsin [a-z]/.test(text) ? tr("By video: see the laptop") : text;
}
