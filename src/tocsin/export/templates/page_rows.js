// The rows of the exported page.

// Rows by id: the size of their letters as a share of the unit, how many lines they may take before they shrink, how
// high a line is, perhaps how many pixels it takes at least. The unit is the height, or in an upright window little
// more than its width.
const ROWS = {
  heading: { size: 0.036, most: 2, line: 1.25 },
  title: { size: 0.09, most: 2, line: 1.1 },
  word: { size: 0.25 / CAP, most: 2, line: 0.86 },
  digits: { size: 0.5, most: 1, line: 0.86 },
  cueDigits: { size: 0.2, most: 1, line: 1 },
  prompt: { size: 0.08, most: 2, line: 1.15 },
  alarm: { size: 0.07, most: 2, line: 1.2 },
  windows: { size: 0.066, most: 2, line: 1.2 },
  ahead0: { size: 0.07, most: 2, line: 1.25 },
  ahead1: { size: 0.046, most: 2, line: 1.3 },
  context: { size: 0.05, most: 2, line: 1.3 },
  result0: { size: 0.05, most: 3, line: 1.3 },
  result1: { size: 0.05, most: 3, line: 1.3 },
  result2: { size: 0.05, most: 3, line: 1.3 },
};
