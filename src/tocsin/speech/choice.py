"""Choose the voice: the one that the rig names, or the first that speaks the plan's language."""

from collections.abc import Iterable, Sequence

from tocsin.speech.engine import SpeechError, Voice
from tocsin.translation import tr

_MOST_NAMED = 6


def voice_for(voices: Sequence[Voice], language: str, name: str = "") -> Voice:
    """Return a voice by its name, or else for a language tag. Raises SpeechError that names the available voices.

    A language tag is shortened from its end until a voice has it (the "lookup" of RFC 4647, 3.4); a voice of some
    region serves a plan that names none.
    """
    if not voices:
        raise SpeechError(tr("this system has no voice"))
    if name:
        wanted = _plain(name)
        found = next((voice for voice in voices if wanted in (_plain(voice.name), _plain(voice.key))), None)
        if found is None:
            raise SpeechError(tr(
                "there is no voice '{name}' here; there are {named}", name=name,
                named=_named(_with(voices, language) or voices),
            ))
        return found
    speaking = _with(voices, language)
    if not speaking:
        tags = dict.fromkeys(voice.languages[0] for voice in voices if voice.languages)
        raise SpeechError(tr(
            "no voice here speaks '{language}', only {listed}", language=language, listed=_listed(list(tags)),
        ))
    return speaking[0]


def _with(voices: Sequence[Voice], language: str) -> list[Voice]:
    """Return the voices that speak a language, the best ones first."""
    parts = language.lower().split("-")
    while parts:
        tag = "-".join(parts)
        exact = [voice for voice in voices if tag in map(str.lower, voice.languages)]
        wider = [v for v in voices if v not in exact and any(one.lower().startswith(f"{tag}-") for one in v.languages)]
        if exact or wider:
            return exact + wider
        parts.pop()
        if parts and len(parts[-1]) == 1:          # a singleton introduces what has just been left out
            parts.pop()
    return []


def _named(voices: Iterable[Voice]) -> str:
    return _listed([voice.name for voice in voices])


def _listed(names: Sequence[str]) -> str:
    more = tr(" and {count} more", count=len(names) - _MOST_NAMED) if len(names) > _MOST_NAMED else ""
    return ", ".join(names[:_MOST_NAMED]) + more


def _plain(name: str) -> str:
    return name.casefold().replace("_", " ").strip()
