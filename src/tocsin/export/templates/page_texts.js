// Give people every text in their language: tr marks a text and looks it up, trn does so with one for so many. A text
// is a whole sentence with named places, written as plain literals: the program that makes this page finds them by
// that. A page in English carries no translation. Of another the program has held all places to the text's own, and
// has laid down which form a language has for each number: "of" holds the place of a form for 0, 1, 2 ...

const PERIOD = 100;                        // languages look at a number's last two digits at most, once it is large
const TRANSLATION = translationIn(document.getElementById("translation"));

function translationIn(element) {
  const { texts, counted } = element ? JSON.parse(element.textContent) : { texts: {}, counted: {} };
  return { texts: new Map(Object.entries(texts)), counted: new Map(Object.entries(counted)) };
}

// The text in the language of whoever reads it, with its facts in their places.
function tr(text, facts) {
  return filled(TRANSLATION.texts.get(text) || text, facts || {});
}

// The text for so many, in which {count} stands for the number.
function trn(one, many, count, facts) {
  const found = TRANSLATION.counted.get(one);
  const english = count === 1 ? one : many;
  return filled(found ? formFor(found, count) : english, { count, ...facts });
}

function formFor({ forms, of }, count) {
  return forms[Number(of[count < of.length ? count : of.length - PERIOD + (count % PERIOD)])];
}

function filled(text, facts) {
  return text.replace(/\{(\w+)\}/g, (place, name) => (name in facts ? String(facts[name]) : place));
}
