// Pads plugged into this device, by the W3C Gamepad interface: which one is whose, their motors, their start button.
//
// The first pad is the driver's, the second the operator's, until somebody swaps them. A pad that goes away keeps its
// place, so that in a match the other one does not change hands; a pad that comes back takes it again.

const SEATS = ["driver", "operator"];
const START_BUTTON = 9;                    // of the standard layout: the right one of the two in the middle
const TRY_PATTERN = { steps: [{ strong: 1, weak: 1, lasts_ns: 500e6 }], times: 1 };

class Pads {
  // `getPads` is navigator.getGamepads, or null where the browser knows no pads.
  constructor(getPads) {
    this._getPads = getPads;
    this._seats = SEATS.map((role) => ({ role, index: -1, id: "", there: false, arbiter: new Arbiter(), error: "" }));
    this._pressed = new Set();
    this._serial = 0;                      // of the newest call, so that an old promise is not taken for its answer
  }

  get known() {
    return this._getPads !== null;
  }

  // {role, id, there, motors, error} of each place.
  get seats() {
    return this._seats.map((seat) => ({ ...seat, motors: seat.there && motorsOf(this._pad(seat)) !== null }));
  }

  // Look what is plugged in. Returns the roles whose pads came, and whether a start button went down.
  poll(standby) {
    const pads = this._list();
    const came = [];
    for (const seat of this._seats) {
      const was = seat.there;
      const pad = pads.find((one) => one.index === seat.index && one.id === seat.id);
      seat.there = Boolean(pad);
      if (was && !seat.there) {
        seat.arbiter.clear();
      } else if (!was && seat.there) {
        came.push(seat.role);
      }
    }
    for (const pad of pads) {
      const seat = this._seatFor(pad, standby);
      if (seat) {
        Object.assign(seat, { index: pad.index, id: pad.id, there: true, error: "" });
        came.push(seat.role);
      }
    }
    return { came, start: this._startPressed(pads) };
  }

  swap() {
    const [one, other] = this._seats;
    [one.role, other.role] = [other.role, one.role];
    this._seats = [other, one];
  }

  // Begin a shot's pattern on the pad of a role. Returns "" or why not: "absent", "outranked".
  begin(role, key, pattern, beginNs, nowNs, priority) {
    const seats = this._seats.filter((seat) => seat.role === role && seat.there && motorsOf(this._pad(seat)));
    if (!seats.length) {
      return "absent";
    }
    return seats.every((seat) => seat.arbiter.begin(key, pattern, beginNs, nowNs, priority)) ? "" : "outranked";
  }

  end(role, key) {
    this._seats.filter((seat) => seat.role === role).forEach((seat) => seat.arbiter.end(key));
  }

  // Make the calls that are due.
  step(nowNs) {
    for (const seat of this._seats.filter((one) => one.there)) {
      const call = seat.arbiter.step(nowNs);
      const motors = call === null ? null : motorsOf(this._pad(seat));
      if (motors) {
        this._send(seat, motors, call);
      }
    }
  }

  nextNs() {
    const times = this._seats.map((seat) => (seat.there ? seat.arbiter.nextNs() : null)).filter((ns) => ns !== null);
    return times.length ? Math.min(...times) : null;
  }

  // Stop every motor.
  stop() {
    for (const seat of this._seats) {
      const motors = seat.there ? motorsOf(this._pad(seat)) : null;
      seat.arbiter.clear();
      if (motors) {
        this._send(seat, motors, "stop");
      }
    }
  }

  _list() {
    try {
      return this.known ? [...this._getPads()].filter((pad) => pad && pad.connected !== false) : [];
    } catch (error) {
      return [];                           // a page in a frame may be forbidden to look
    }
  }

  _pad(seat) {
    return this._list().find((pad) => pad.index === seat.index) || null;
  }

  // The place that a pad without one takes: its old one, or a free one, or in standby that of a pad that is gone.
  _seatFor(pad, standby) {
    if (this._seats.some((seat) => seat.there && seat.index === pad.index)) {
      return null;
    }
    const gone = this._seats.filter((seat) => !seat.there);
    const own = gone.find((seat) => seat.id === pad.id);
    return own || gone.find((seat) => seat.index < 0) || (standby && gone[0]) || null;
  }

  _startPressed(pads) {
    let start = false;
    for (const pad of pads) {
      const button = pad.buttons && pad.buttons[START_BUTTON];
      const down = Boolean(button && button.pressed);
      start = start || (down && !this._pressed.has(pad.index));
      this._pressed[down ? "add" : "delete"](pad.index);
    }
    return start;
  }

  _send(seat, motors, call) {
    this._serial += 1;
    const serial = this._serial;
    const failed = (error) => {
      if (serial === this._serial) {
        const why = (error && error.message) || error || tr("no reason given");
        seat.error = tr("did not take it: {why}", { why });
      }
    };
    try {
      const answer = call === "stop" ? motors.stop() : motors.play(call.strong, call.weak, call.ms);
      Promise.resolve(answer).then(() => { seat.error = ""; }, failed);
    } catch (error) {
      failed(error);
    }
  }
}

// What drives a pad's motors: {play(strong, weak, ms), stop()}, or null if this browser or this pad has none.
function motorsOf(pad) {
  const actuator = pad && pad.vibrationActuator;
  if (actuator && actuator.playEffect) {
    const play = (strongMagnitude, weakMagnitude, duration) => (
      actuator.playEffect("dual-rumble", { startDelay: 0, duration, strongMagnitude, weakMagnitude })
    );
    return { play, stop: () => (actuator.reset ? actuator.reset() : play(0, 0, 1)) };
  }
  const haptic = pad && pad.hapticActuators && pad.hapticActuators[0];
  if (haptic && haptic.pulse) {
    const play = (strong, weak, ms) => haptic.pulse(Math.max(strong, weak), ms);
    return { play, stop: () => play(0, 0, 1) };
  }
  return null;
}
