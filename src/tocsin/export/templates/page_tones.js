// Tones by Web Audio: made from the plan's steps (pitch, glide, level, soft edges), set on the audio clock ahead of
// their time, so that a blocked page does not make them late. A higher cue's tone ends a lower one's: two at once are
// neither.

const AHEAD_NS = 3 * NS_PER_S;             // how far ahead tones are set
const CUT_S = 0.01;                        // a tone that is cut fades over this, so that nothing clicks
const BEATS = 3;                           // of the count-in, before the one that falls on the begin
// As in the program's own count-in: as many short tones as seconds are left, and one long low tone to press on.
// ISO 16: B5 and D5.
const BEAT = { steps: [], times: 1, attack_ns: 8e6, release_ns: 20e6 };
const SHORT = { hz: 987.7666, to_hz: 0, level: 0.7, lasts_ns: 60e6 };
const PAUSE = { hz: 0, to_hz: 0, level: 0.8, lasts_ns: 60e6 };
const LONG = { hz: 587.3295, to_hz: 0, level: 0.7, lasts_ns: 250e6 };
const TRY_TONE = { ...BEAT, steps: [{ hz: 659.2551, to_hz: 0, level: 0.5, lasts_ns: 500e6 }] };

// A pattern as samples within -1 to 1: the pitch of a step moves evenly, its edges are half a cosine.
function samplesOf(pattern, rateHz) {
  const frames = (ns) => Math.floor((ns * rateHz + NS_PER_S / 2) / NS_PER_S);
  const once = pattern.steps.map((step) => stepSamples(step, frames, pattern, rateHz));
  const length = once.reduce((sum, part) => sum + part.length, 0);
  const samples = new Float32Array(length * pattern.times);
  let at = 0;
  for (let n = 0; n < pattern.times; n += 1) {
    for (const part of once) {
      samples.set(part, at);
      at += part.length;
    }
  }
  return samples;
}

function stepSamples(step, frames, pattern, rateHz) {
  const count = frames(step.lasts_ns);
  const samples = new Float32Array(count);
  if (step.hz <= 0 || step.level <= 0) {
    return samples;
  }
  let attack = frames(pattern.attack_ns);
  let release = frames(pattern.release_ns);
  if (attack + release > count) {          // edges that do not fit share the step in their proportion
    attack = Math.floor((count * attack) / (attack + release));
    release = count - attack;
  }
  const glide = ((step.to_hz || step.hz) - step.hz) / count;
  let turns = 0;
  for (let n = 0; n < count; n += 1) {
    let loud = n < attack ? 0.5 - 0.5 * Math.cos((Math.PI * n) / attack) : 1;
    if (n >= count - release) {
      loud = 0.5 + 0.5 * Math.cos((Math.PI * (n - (count - release) + 1)) / release);
    }
    samples[n] = step.level * loud * Math.sin(2 * Math.PI * turns);
    turns += (step.hz + glide * (n + 1)) / rateHz;
  }
  return samples;
}

function beatSteps(left) {
  return left ? Array.from({ length: 2 * left - 1 }, (_, n) => (n % 2 ? PAUSE : SHORT)) : [LONG];
}

// The tones of a count-in that ends at `originNs`: one a second, the last on the begin itself.
function beatTones(originNs) {
  const beats = Array.from({ length: BEATS + 1 }, (_, n) => BEATS - n);
  return beats.map((beat) => ({
    key: "beat " + beat,
    pattern: { ...BEAT, steps: beatSteps(beat) },
    beginNs: originNs - beat * NS_PER_S,
    lastsNs: beatSteps(beat).reduce((sum, step) => sum + step.lasts_ns, 0),
    priority: 9,
  }));
}

class Tones {
  // `makeContext` returns an AudioContext, or null where the browser has none.
  constructor(makeContext) {
    this._makeContext = makeContext;
    this._context = null;
    this._master = null;
    this._missing = false;
    this._set = new Map();                 // key -> tone that was set: {source, gain, beginNs, endNs, priority, cutNs}
    this.volume = 0.5;
    this.muted = false;
  }

  // "ready", "waits" (for a tap or key, which browsers ask for), "muted" or "absent".
  get state() {
    if (this._missing) {
      return "absent";
    }
    if (this.muted) {
      return "muted";
    }
    return this._context && this._context.state === "running" ? "ready" : "waits";
  }

  // Begin to sound, as far as the browser allows it: to be called in a tap's or key's event. Resolves when it is known.
  wake() {
    if (!this._context && !this._missing) {
      this._context = this._makeContext();
      this._missing = this._context === null;
      if (this._context) {
        this._master = this._context.createGain();
        this._master.connect(this._context.destination);
        this.setVolume(this.volume, this.muted);
      }
    }
    const asleep = this._context && this._context.state !== "running";
    return Promise.resolve(asleep ? this._context.resume() : null).catch(() => {});
  }

  setVolume(volume, muted) {
    this.volume = volume;
    this.muted = muted;
    if (this._master) {
      this._master.gain.value = muted ? 0 : volume;
    }
  }

  // Set those of these tones, in order of their begin, that lie ahead and are not set yet.
  prepare(tones, nowNs) {
    tones.filter((one) => one.beginNs >= nowNs && !this._set.has(one.key)).forEach((one) => this.set(one, nowNs));
  }

  // Set a tone {key, pattern, beginNs, lastsNs, priority} to be heard at `beginNs`. "", or why not: absent, outranked.
  set({ key, pattern, beginNs, lastsNs, priority }, nowNs) {
    if (!this._context || this._context.state !== "running") {
      return "absent";
    }
    for (const [other, tone] of [...this._set]) {
      if (tone.beginNs > beginNs || tone.endNs <= beginNs) {
        continue;
      }
      if (tone.priority > priority) {
        return "outranked";
      }
      this._cut(tone, beginNs, nowNs);
      if (tone.beginNs === beginNs) {
        this._set.delete(other);
      }
    }
    this._set.set(key, this._play(pattern, beginNs, lastsNs, priority, nowNs));
    return "";
  }

  // Whether a shot's tone was set and has begun by `nowNs`.
  sounded(key, nowNs) {
    return this._set.has(key) && this._set.get(key).beginNs <= nowNs;
  }

  // Take back one tone that was set, or all that have not begun, or with `all` those that sound too.
  withdraw(key) {
    if (this._set.has(key)) {
      this._stop(this._set.get(key));
      this._set.delete(key);
    }
  }

  withdrawFrom(nowNs, all) {
    for (const [key, tone] of [...this._set]) {
      if (all || tone.beginNs > nowNs) {
        this.withdraw(key);
      }
    }
  }

  // Forget the tones that have rung out.
  forget(nowNs) {
    for (const [key, tone] of [...this._set]) {
      if (tone.endNs + NS_PER_S < nowNs) {
        this._set.delete(key);
      }
    }
  }

  _play(pattern, beginNs, lastsNs, priority, nowNs) {
    const context = this._context;
    const samples = samplesOf(pattern, context.sampleRate);
    const buffer = context.createBuffer(1, samples.length, context.sampleRate);
    buffer.getChannelData(0).set(samples);
    const source = context.createBufferSource();
    const gain = context.createGain();
    source.buffer = buffer;
    source.connect(gain);
    gain.connect(this._master);
    const at = this._audioTime(beginNs, nowNs);
    source.start(at);
    const endNs = beginNs + lastsNs;
    const tone = { source, gain, beginNs, endNs, priority };
    if (lastsNs < (samples.length / context.sampleRate) * NS_PER_S) {
      this._cut(tone, endNs, nowNs);       // it would ring on past the end of everything
    }
    return tone;
  }

  // The time on the audio clock at which something has to begin to be heard at `ns`.
  _audioTime(ns, nowNs) {
    const context = this._context;
    const stamp = context.getOutputTimestamp ? context.getOutputTimestamp() : null;
    if (stamp && stamp.performanceTime > 0 && stamp.contextTime > 0) {
      const heardNs = nanosOf(stamp.performanceTime);
      return Math.max(context.currentTime, stamp.contextTime + (ns - heardNs) / NS_PER_S);
    }
    const delay = context.outputLatency || context.baseLatency || 0;
    return Math.max(context.currentTime, context.currentTime + (ns - nowNs) / NS_PER_S - delay);
  }

  _cut(tone, atNs, nowNs) {
    const at = this._audioTime(atNs, nowNs);
    tone.gain.gain.setValueAtTime(1, at);
    tone.gain.gain.linearRampToValueAtTime(0, at + CUT_S);
    tone.source.stop(at + CUT_S);
    tone.endNs = Math.min(tone.endNs, atNs);
  }

  _stop(tone) {
    const at = this._context.currentTime;
    tone.gain.gain.cancelScheduledValues(at);
    tone.gain.gain.setValueAtTime(1, at);
    tone.gain.gain.linearRampToValueAtTime(0, at + CUT_S);
    try {
      tone.source.stop(at + CUT_S);
    } catch (error) {
      tone.gain.disconnect();              // some browsers allow only one stop
    }
  }
}
