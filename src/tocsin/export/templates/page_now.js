// The one clock that everything on a page goes by, in integer nanoseconds: the device's own monotonic clock, moved by
// how far another clock that counts lies ahead of it. A page that stands for itself moves it by nothing.

const CLOCK = { aheadNs: 0 };

function nowNanos() {
  return nanosOf(performance.now());
}

// What a time of the device's own clock, in milliseconds, is on the clock that counts.
function nanosOf(ownMs) {
  return Math.round(ownMs * NS_PER_MS) + CLOCK.aheadNs;
}

// When an event happened; some browsers count its time from elsewhere, then it is now.
function timeOf(event) {
  const nowNs = nowNanos();
  const atNs = nanosOf(event.timeStamp);
  return atNs <= nowNs && nowNs - atNs < NS_PER_S ? atNs : nowNs;
}
