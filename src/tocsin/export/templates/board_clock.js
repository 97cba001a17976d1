// The laptop's clock on this phone: exchanges of times, of the last ones that with the least delay (RFC 5905's clock
// filter without dispersion). How far it may be off is half of that delay (Cristian 1989): an answer that took another
// time back than its question took there cannot be seen, and moves the clock by half of the difference. With the time
// since then the clocks drift apart.

const KEPT = 8;
const ENOUGH = 4;                          // exchanges after which a clock that was wrong may be shown again
const EACH_MS = 5000;
const STEP_MS = 50;                        // by which the wall clock runs away from a phone that slept
const STILL_MS = 6000;                     // a page that did nothing for so long was asleep
const MOVED_NS = 2 * NS_PER_MS;            // by less nothing is placed anew
const DRIFT_PPM = 100;                     // by which two clocks drift apart at most (from memory; the follower's too)
const MOST_READINGS = 1e5;                 // of a clock that may stand
const TICK_NS = 2 * stepOf(() => performance.now()) * NS_PER_MS;           // of two readings

class KeeperClock {
  // `exchange()` resolves to {received_ns, sent_ns}; `changed(byNs)` is called when the clock was moved, or is lost.
  constructor(exchange, changed) {
    this._exchange = exchange;
    this._changed = changed;
    this._kept = [];                       // what the clock goes by: {askedNs, aheadNs, delayNs}
    this._fresh = null;                    // exchanges since a gap, until there are enough of them
    this._burst = 0;
    this._lookMs = null;
    this._wallMs = null;
    this._running = false;
    this._pause = new Pause();
    this.known = false;
  }

  get errorNs() {
    return this.known ? Math.ceil(errorAtNs(bestOf(this._kept), performance.now() * NS_PER_MS)) : null;
  }

  // Exchange anew: the line was cut, or with `lost` the clock is wrong, and none until there are enough exchanges.
  anew(lost) {
    this._fresh = [];
    this._burst = KEPT;
    if (lost && this.known) {
      this.known = false;
      this._changed(0);
    }
    if (!this._running) {
      this._running = true;
      this._run();
    } else {
      this._pause.end();
    }
  }

  // Notice that this phone slept: its own clock stood still then. Called often.
  look() {
    const [ownMs, wallMs] = [performance.now(), Date.now()];
    const still = this._lookMs !== null && ownMs - this._lookMs > STILL_MS;
    const stepMs = this._lookMs === null ? 0 : wallMs - this._wallMs - (ownMs - this._lookMs);
    this._lookMs = ownMs;
    this._wallMs = wallMs;
    if (still || Math.abs(stepMs) > STEP_MS) {
      this.anew(true);
    }
  }

  async _run() {
    for (;;) {
      const sample = await this._sample();
      if (sample) {
        this._take(sample);
      }
      this._burst = sample ? Math.max(0, this._burst - 1) : this._burst;
      await this._pause.wait(!sample ? PAUSES_MS[2] : this._burst ? 0 : EACH_MS);
    }
  }

  async _sample() {
    const round = this._fresh;
    try {
      const askedNs = performance.now() * NS_PER_MS;
      const { received_ns: receivedNs, sent_ns: sentNs } = await this._exchange();
      const sample = sampleOf(askedNs, receivedNs, sentNs, performance.now() * NS_PER_MS);
      return round === this._fresh ? sample : null;    // else this phone may have slept meanwhile
    } catch (error) {
      return null;                         // the line is cut: the clock goes on by itself
    }
  }

  _take(sample) {
    if ((this._fresh || this._kept).some((old) => areApart(old, sample))) {
      this.anew(true);                     // the laptop slept: what was known before counts no more
    }
    if (this._fresh !== null) {
      this._fresh.push(sample);
      if (this._fresh.length < ENOUGH) {
        return;
      }
      this._kept = this._fresh;
      this._fresh = null;
    } else {
      this._kept = [...this._kept, sample].slice(-KEPT);
    }
    const { aheadNs } = bestOf(this._kept);
    const byNs = aheadNs - CLOCK.aheadNs;
    const moved = !this.known || Math.abs(byNs) > MOVED_NS;
    CLOCK.aheadNs = aheadNs;
    this.known = true;
    if (moved) {
      this._changed(byNs);
    }
  }
}

// NTP's formula, of times in nanoseconds: asked and answered on this page's own clock, received and sent on the other.
function sampleOf(askedNs, receivedNs, sentNs, answeredNs) {
  return {
    askedNs,
    aheadNs: Math.round((receivedNs - askedNs + (sentNs - answeredNs)) / 2),
    delayNs: answeredNs - askedNs - (sentNs - receivedNs),
  };
}

// By how much an exchange's clock may be off at a time of this page's own clock.
function errorAtNs({ askedNs, delayNs }, ownNs) {
  return delayNs / 2 + TICK_NS + ((ownNs - askedNs) * DRIFT_PPM) / 1e6;
}

// Whether two exchanges lie so far apart that the laptop must have slept between them: no drift and no clumsy clock of a
// browser explains it.
function areApart(old, sample) {
  const gotNs = sample.askedNs + sample.delayNs;
  const mostNs = errorAtNs(old, gotNs) + errorAtNs(sample, gotNs) + STEP_MS * NS_PER_MS;
  return Math.abs(sample.aheadNs - old.aheadNs) > mostNs;
}

// The steps in which a browser tells the time, in ms: 0.1 in some, 1 in others. The least of a few that follow each
// other; of a clock that stands 0.1.
function stepOf(readMs) {
  const steps = [];
  for (let n = 0, lastMs = readMs(); n < MOST_READINGS && steps.length < 5; n += 1) {
    const ms = readMs();
    if (ms !== lastMs) {
      steps.push(ms - lastMs);
    }
    lastMs = ms;
  }
  return steps.length ? Math.max(0.1, Math.min(...steps)) : 0.1;
}

function bestOf(samples) {
  return samples.reduce((best, one) => (one.delayNs < best.delayNs ? one : best));
}
