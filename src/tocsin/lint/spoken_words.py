"""Check the words that a cue shows and a coach says."""

import re
import unicodedata
from collections.abc import Iterator
from itertools import pairwise

from tocsin.lint import limits as limit
from tocsin.lint.finding import BAD, TELL, WARN, Finding, Kind
from tocsin.lint.limits import APART_NS, LONGEST_PHRASE_NS, MOST_FOR_DRIVER, SYLLABLE_NS
from tocsin.lint.subject import Subject
from tocsin.lint.tracks import PlacedFiring, PlayedPattern, Track, played
from tocsin.model.rig import Sound
from tocsin.model.spoken import spoken_words, word_begins_ns
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S, format_clock

KINDS_OF_WORDS: dict[str, Kind] = {
    "reserved_word": Kind(
        BAD,
        "The cue '{cue}' says '{word}'.",
        'People may read it as "go in" or "it stopped", and walk up to a moving robot.',
        "Take a word for what drivers do: Home, No touch, Last one.",
        (limit.FIELD_WORDS,),
    ),
    "reserved_name": Kind(
        WARN,
        "The cue's id '{cue}' has the word '{word}'.",
        "The id is not shown here, but people use it when they talk about the plan.",
        "Name it for what drivers do, such as home or no_touch.",
        (limit.FIELD_WORDS,),
    ),
    "long_phrase": Kind(
        TELL,
        "'{word}' takes about {takes} to say.",
        "A long call ends too late to help. (An estimate by syllables.)",
        "Take one or two syllables.",
        (limit.LONGEST_PHRASE_NS, limit.SYLLABLE_NS),
    ),
    "words_crowd": Kind(
        WARN,
        "'{word}' comes {gap} '{other}', {when}.",
        "Nobody can read two words at once.",
        "Put them 1 s or more apart, or give one without a screen.",
        (limit.APART_NS,),
    ),
    "many_cues": Kind(
        TELL,
        "The driver gets cues at {count} moments: too many from '{cue}' on.",
        "If you are called all the time you miss the call that matters.",
        'Take some away, or give them to others: for = ["operator", "coach"]',
        (limit.MOST_FOR_DRIVER,),
    ),
}


def speech(subject: Subject) -> Iterator[Finding]:
    """Yield words still being spoken when another tone begins, on the rig's loudspeaker, or on any that speaks."""
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


def _word_begins_ns(subject: Subject, one: PlayedPattern) -> int:
    return one.placed.begin_ns + word_begins_ns(subject.plan.patterns.sound[one.placed.firing.pattern])


RESERVED = re.compile(r"\b(stop|clear|go|ready|set|safe|hands? off)\b")
PRESS = re.compile(r"\b(press|tap|hit|button|stick|sticks)\b")
_VOWELS = re.compile(r"[aeiouy]+")
# A last "e" is not spoken (home, five), but for those after a consonant and an "l" (cable).
_SILENT_E = re.compile(r"(?<=[a-z])(?<![aeiouy])(?<![^aeiouy]l)e$")


def words(subject: Subject) -> Iterator[Finding]:
    """Yield words that belong to others, phrases too long to say, words too close together, too many cues."""
    for cue in subject.plan.cues:
        shown = _plain(cue.say or cue.id)
        if found := RESERVED.search(shown):
            facts = {"cue": cue.id, "word": found[0]}
            yield Finding(code="reserved_word", level="error", path=subject.word(cue.id), facts=facts)
        elif found := RESERVED.search(_plain(cue.id)):
            facts = {"cue": cue.id, "word": found[0]}
            yield Finding(code="reserved_name", level="warning", path=subject.at(cue.id, "id"), facts=facts)
        if takes_ns(shown) > LONGEST_PHRASE_NS.value:
            facts = {"word": cue.say or cue.id, "takes": tr("{takes:.0f} ms", takes=takes_ns(shown) / NS_PER_MS)}
            yield Finding(code="long_phrase", level="advice", path=subject.word(cue.id), facts=facts)
    for track in subject.tracks:
        if track.in_match:
            yield from _crowded(subject, track)
    yield from _many(subject)


def syllables(text: str) -> int:
    """Return about how many syllables a text has: groups of vowels, at least one a word (an estimate for English)."""
    return sum(max(1, len(_VOWELS.findall(_SILENT_E.sub("", word)))) for word in _plain(text).split())


def takes_ns(text: str) -> int:
    """Return about how long a text takes to say, in nanoseconds."""
    return syllables(text) * int(SYLLABLE_NS.value)


def _plain(text: str) -> str:
    """Return a text in small letters without accents, joined words apart."""
    split = unicodedata.normalize("NFD", text.lower().replace("_", " "))
    return "".join(char for char in split if not unicodedata.combining(char))


def _crowded(subject: Subject, track: Track) -> Iterator[Finding]:
    """Yield words that follow another one too soon to be read."""
    last: PlacedFiring | None = None
    for placed in track.of("screen"):
        if last is not None and _plain(last.firing.word) != _plain(placed.firing.word):
            gap_ns = placed.begin_ns - last.begin_ns
            if gap_ns < APART_NS.value:
                gap = tr("{gap} after", gap=format_clock(gap_ns)) if gap_ns else tr("at the same time as")
                facts = {"word": placed.firing.word, "other": last.firing.word, "gap": gap,
                         "when": track.when(placed.begin_ns)}  # fmt: skip
                path = subject.moment(placed.firing.cue)
                yield Finding(code="words_crowd", level="warning", path=path, facts=facts)
        last = placed


def _many(subject: Subject) -> Iterator[Finding]:
    """Yield the first cue that is one too many for a driver in a match; cues of one moment count once."""
    if len(subject.game.periods) == 1 and not subject.game.stakes:
        return                                     # an exercise: there the calls are what it is about
    for variant in subject.timeline.variants or ("",):
        moments: dict[tuple[str, int], str] = {}
        for track in subject.tracks:
            if track.in_match and track.variant in ("", variant):
                for placed in track.placed:
                    if "driver" in subject.cue_of(placed).roles:
                        moments.setdefault((track.anchor, placed.begin_ns), placed.firing.cue)
        if len(moments) > MOST_FOR_DRIVER.value:
            cue = list(moments.values())[int(MOST_FOR_DRIVER.value)]
            facts = {"count": str(len(moments)), "cue": cue}
            yield Finding(code="many_cues", level="advice", path=subject.moment(cue), facts=facts)
