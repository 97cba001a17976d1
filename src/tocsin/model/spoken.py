"""Which cues' words are spoken: the coach's are the coach's to say."""

from tocsin.model.plan import Plan
from tocsin.model.rig import Sound


def spoken_words(plan: Plan, sound: Sound | None) -> dict[str, str]:
    """Return the words that a plan's cues speak on a rig's loudspeaker, by the cue's id.

    A word is spoken where the cue makes a sound and is not for the coach: what is for the coach, the coach says. In a
    plan that has cues for the coach nothing is spoken at all, unless the rig says ``speech = true``: two voices at
    once are neither.
    """
    if sound is None or sound.speech is False or (sound.speech is None and has_coach(plan)):
        return {}
    said = (cue for cue in plan.cues if "sound" in cue.patterns and "coach" not in cue.roles)
    return {cue.id: cue.say for cue in said if cue.say.strip()}


def has_coach(plan: Plan) -> bool:
    """Return whether a coach is in the crew that a plan is for."""
    return any("coach" in cue.roles for cue in plan.cues)
