// What the address asks for: ?rate=20 (match seconds in a real one), ?from=120 (match seconds), ?start=now.

const MIN_RATE = 0.1;
const MAX_RATE = 100;

function wishOf(search, timeline) {
  const given = new URLSearchParams(search);
  const rate = given.has("rate") ? Number(given.get("rate")) : 1;
  const fromNs = given.has("from") ? Math.round(Number(given.get("from")) * NS_PER_S) : 0;
  const end = timeline.lastEnd();
  const endNs = timeline.segments[timeline.rank(end.anchor)].match_ns + end.offset_ns;
  const rateFits = rate >= MIN_RATE && rate <= MAX_RATE;
  const fromFits = fromNs >= 0 && fromNs < endNs;
  const notices = [
    ...(rateFits ? [] : [tr("?rate lies between {least} and {most}: taken as 1", { least: MIN_RATE, most: MAX_RATE })]),
    ...(fromFits ? [] : [tr("?from is match seconds before the end ({end}): taken as 0", { end: endNs / NS_PER_S })]),
  ];
  return {
    rate: rateFits ? rate : 1,
    at: timeline.pointAt(fromFits ? fromNs : 0),
    startsNow: given.get("start") === "now",
    notice: notices.join("; "),
  };
}
