"""A process of its own with the sound channel, since SDL's state is one a process. Runs a list of deeds from stdin.

Deeds: ["fire", pattern, no, priority, ms of its length or 0], ["prepare", pattern, no, ms ahead], ["end", no],
["wait", ms] (ticking), ["command", verb], ["safe"], ["close"]; ["words", {cue: [hz, ms]}, note] loads all anew with
words that are tones of full level (a shot's cue is called as its pattern); ["long words", {cue: s}] does with words
that are a constant; ["disk", "full" or "free"] breaks what SDL's
disk driver feeds and fixes it, ["folder"] makes the folder that it writes into.
Prints what each hook answered, as a JSON list; ["safe"] answers how many frames SDL had handed out by then.
"""

import json
import os
import resource
import sys
from pathlib import Path

from tests.support.channels.channel_shots import loaded, shot
from tocsin import monotime
from tocsin.channels.sound.channel import SoundChannel
from tocsin.channels.sound.synth import pcm
from tocsin.config.load import load
from tocsin.model.pattern import SoundPattern, SoundStep, lasts_ns
from tocsin.model.rig import Rig, Sound
from tocsin.model.samples import RATE_HZ, SIDES
from tocsin.runner.match.count_in import with_count_in_patterns
from tocsin.units import NS_PER_MS


def events(found):
    return [[event.kind, event.state, event.what, event.why] for event in found]


def tone(hz, ms):
    """Return a tone without soft edges, which can be told from silence to the frame."""
    return SoundPattern(steps=(SoundStep(hz=hz, level=1.0, lasts_ns=ms * NS_PER_MS),), attack_ns=0, release_ns=0)


def fill_disk(how):
    """Let no file grow any more, or let them: Python ignores SIGXFSZ, so that a write just fails."""
    hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
    resource.setrlimit(resource.RLIMIT_FSIZE, (0 if how == "full" else hard, hard))


def main():
    heard = Path(os.environ["SDL_DISKAUDIOFILE"])
    patterns = with_count_in_patterns(load(None, ["full"], "nothing").plans[0].plan.patterns)
    rig = Rig(name="Test", sound=Sound(buffer=1024, volume=0.5) if "sound" in sys.argv else None)
    channel, answers, shots = SoundChannel(rig), [], {}
    answers.append(events(channel.open(monotime.now_ns())))
    loaded(channel, patterns)
    for verb, *facts in json.loads(sys.stdin.read()):
        now_ns = monotime.now_ns()
        if verb == "fire":
            name, no, priority, cut_ms = facts
            end_ns = now_ns + (cut_ms * NS_PER_MS or lasts_ns(patterns.sound[name]))
            shots[no] = shot(name, now_ns, end_ns, no=no, priority=priority, channel="sound")
            shown = channel.fire(shots[no], now_ns)
            answers.append([shown.outcome, shown.why, *shown.by])
        elif verb == "words":
            words, note = facts
            channel.take_words({cue: pcm(tone(hz, ms)) for cue, (hz, ms) in words.items()}, note)
            loaded(channel, patterns)
        elif verb == "long words":
            words = {cue: bytes([0, 64]) * (SIDES * RATE_HZ * seconds) for cue, seconds in facts[0].items()}
            channel.take_words(words, "")
            loaded(channel, patterns)
        elif verb == "prepare":
            name, no, ahead_ms = facts
            begin_ns = now_ns + ahead_ms * NS_PER_MS
            channel.prepare(shot(name, begin_ns, begin_ns + NS_PER_MS, no=no, channel="sound"), now_ns)
        elif verb == "end":
            channel.end(shots[facts[0]], now_ns)
        elif verb == "wait":
            until_ns = now_ns + facts[0] * NS_PER_MS
            while (now_ns := monotime.now_ns()) < until_ns:
                answers += events(channel.tick(now_ns))
                monotime.sleep_ns(5 * NS_PER_MS)
        elif verb == "command":
            answers.append(events(channel.command(facts[0], now_ns)))
        elif verb == "safe":
            channel.make_safe(now_ns)
            answers.append(heard.stat().st_size // 4 if heard.exists() else 0)
        elif verb == "disk":
            fill_disk(facts[0])
        elif verb == "folder":
            heard.parent.mkdir()
        elif verb == "close":
            channel.close()
    channel.close()
    print(json.dumps(answers))


if __name__ == "__main__":
    main()
