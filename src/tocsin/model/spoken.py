"""Decide which cues' words are spoken, and when: a coach's words are left to the coach, and a tone comes before its
word."""

from tocsin.model.pattern import SoundPattern
from tocsin.model.plan import Plan
from tocsin.model.rig import Sound
from tocsin.units import NS_PER_MS

MOST_PHRASES = 100                     # that are spoken in a plan: all of them are held ready, and nobody learns more
GAP_NS = 100 * NS_PER_MS               # between a tone and its word (own estimate: told apart, and no time lost)


def spoken_words(plan: Plan, sound: Sound | None) -> dict[str, str]:
    """Return the words that a plan's cues speak on a rig's loudspeaker, by the cue's id.

    A word is spoken if the cue makes a sound and is not for the coach, who says those words. A plan with cues for the
    coach speaks nothing at all, unless the rig says ``speech = true``, since nobody understands two voices at once.
    Only the first MOST_PHRASES different words are spoken.
    """
    phrases = _phrases(plan, sound)
    spoken = set(list(dict.fromkeys(phrases.values()))[:MOST_PHRASES])
    return {cue: phrase for cue, phrase in phrases.items() if phrase in spoken}


def too_many_words(plan: Plan, sound: Sound | None) -> int:
    """Return how many different words of a plan exceed MOST_PHRASES and are not spoken."""
    return max(0, len(set(_phrases(plan, sound).values())) - MOST_PHRASES)


def _phrases(plan: Plan, sound: Sound | None) -> dict[str, str]:
    if sound is None or sound.speech is False or left_to_coach(plan, sound):
        return {}
    said = (cue for cue in plan.cues if "sound" in cue.patterns and "coach" not in cue.roles)
    return {cue.id: cue.say for cue in said if cue.say.strip()}


def left_to_coach(plan: Plan, sound: Sound) -> bool:
    """Return whether a plan speaks nothing because a coach is there and the rig does not say otherwise."""
    return sound.speech is None and has_coach(plan)


def word_begins_ns(pattern: SoundPattern) -> int:
    """Return when a word begins, in nanoseconds after the begin of its cue's sound: after the last tone and a gap.

    A silence at the pattern's end counts towards the gap. There always is a tone: files without one are refused.
    """
    at_ns = heard_until_ns = 0
    for step in pattern.steps * pattern.times:
        at_ns += step.lasts_ns
        if step.hz and step.level:
            heard_until_ns = at_ns
    return heard_until_ns + GAP_NS


def has_coach(plan: Plan) -> bool:
    """Return whether a coach is in the crew that a plan is for."""
    return any("coach" in cue.roles for cue in plan.cues)
