"""Speech: words that still sound when the next tone begins, which ends them."""

from collections.abc import Iterator
from itertools import pairwise

from tocsin.lint.finding import Finding
from tocsin.lint.subject import Subject
from tocsin.lint.tracks import Played, Track, played
from tocsin.lint.words import takes_ns
from tocsin.model.rig import Sound
from tocsin.model.spoken import spoken_words, word_begins_ns
from tocsin.units import NS_PER_S


def speech(subject: Subject) -> Iterator[Finding]:
    """Yield words that have not been said when another tone begins, as far as the rig speaks, or any rig would."""
    words = spoken_words(subject.plan, Sound() if subject.rig is None else subject.rig.sound)
    if words:
        for track in subject.tracks:
            yield from _over_tones(subject, track, words)


def _over_tones(subject: Subject, track: Track, words: dict[str, str]) -> Iterator[Finding]:
    sounding = [one for one in played(track.of("sound")) if one.end_ns > one.placed.begin_ns]
    for one, after in pairwise(sorted(sounding, key=lambda p: p.placed.begin_ns)):
        firing = one.placed.firing
        word = words.get(firing.cue)
        if word is None or one.by is not None:
            continue                               # a tone that is cut is told elsewhere
        takes = subject.said_ns.get(word) or takes_ns(word)
        if after.placed.begin_ns < _word_begins_ns(subject, one) + takes:
            facts = {"cue": firing.cue, "word": word, "takes": f"{takes / NS_PER_S:.2g} s",
                     "other": after.placed.firing.cue, "when": track.when(after.placed.begin_ns)}  # fmt: skip
            path = subject.word(firing.cue)
            yield Finding(code="speech_over_tone", level="warning", path=path, facts=facts)


def _word_begins_ns(subject: Subject, one: Played) -> int:
    return one.placed.begin_ns + word_begins_ns(subject.plan.patterns.sound[one.placed.firing.pattern])
