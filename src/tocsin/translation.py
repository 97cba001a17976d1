"""Give people every text in their language: ``tr("...")`` marks a text, and looks it up.

All marked texts stand in one list, ``locale/tocsin.pot`` (a template of GNU gettext; ``python -m tests.support.texts``
makes it anew). English alone is shipped: a text without a translation stays as it is. Who translates makes
``LANGUAGE/LC_MESSAGES/tocsin.mo`` in a folder, and names that in ``TOCSIN_LOCALE``; the language is the system's, by
the variables that gettext reads. It is chosen once, as the program starts.

A text is a sentence with named places, since another language may need another order. A translation that has others
than its text is not taken, wherever the places are filled: the text is said in English. What programs read (ids, codes,
keys of files) is never marked.
"""

import os
from collections.abc import Callable

DOMAIN = "tocsin"
FOLDER = "TOCSIN_LOCALE"               # the variable that names a folder of translations
_ENGLISH = "en"


def tr(text: str, /, **facts: object) -> str:
    """Return a text in the language of whoever reads it, with its facts in their places.

    >>> tr("{name} is gone", name="Pad 2"), tr("no fact, no {place}")
    ('Pad 2 is gone', 'no fact, no {place}')
    """
    found = _looked_up(text) if text else text         # of an empty one gettext returns a catalogue's head
    return found.format_map(facts) if facts else found


def trn(one: str, many: str, count: int, /, **facts: object) -> str:
    """Return the text for so many, in which ``{count}`` stands for the number. A language may have more than two.

    >>> trn("{count} round", "{count} rounds", 1), trn("{count} round", "{count} rounds", 0)
    ('1 round', '0 rounds')
    """
    return form(one, many, count).format_map({"count": count, **facts})


def form(one: str, many: str, count: int, /) -> str:
    """Return the text for so many with its places left open, for what fills them itself."""
    return _counted(one, many, count)


def marked(*texts: str) -> tuple[str, ...]:
    """Return the texts as they are: they stand in the list, and are looked up elsewhere."""
    return texts


def claim_gettext() -> None:
    """Let what asks gettext itself, as argparse does, find our texts. Libraries claim it for theirs as they load."""
    if os.environ.get(FOLDER) and not TROUBLE:
        import gettext

        gettext.textdomain(DOMAIN)


def _fits(found: str, text: str) -> bool:
    """Return whether a translation has no other places than its text: then whatever fills the one can fill the other,
    and a wrong one stops nothing."""
    try:
        known = _places(text)
    except ValueError:
        return True                                    # it is filled with nothing: its braces are said
    try:
        return _places(found) <= known
    except ValueError:
        return False


def _places(text: str) -> set[tuple[str, str | None, str | None]]:
    from string import Formatter

    return {(name, form, how) for _, name, form, how in Formatter().parse(text) if name is not None}


def _counted_in_english(one: str, many: str, count: int) -> str:
    return one if count == 1 else many


def _of_system() -> tuple[Callable[[str], str], Callable[[str, str, int], str], str, str]:
    """Return how a text is looked up, how one for so many, the language, and what was wrong with the translation."""
    folder = os.environ.get(FOLDER)
    if not folder:
        return str, _counted_in_english, _ENGLISH, ""    # the usual case pays nothing
    import gettext

    try:
        found = gettext.translation(DOMAIN, folder, fallback=True)
    except Exception as error:                         # its reader raises whatever comes of a broken file
        trouble = f"{FOLDER}={folder}: the translation cannot be read ({error}): in English"
        return str, _counted_in_english, _ENGLISH, trouble
    gettext.bindtextdomain(DOMAIN, folder)

    def looked_up(text: str) -> str:
        said = found.gettext(text)
        return said if said == text or _fits(said, text) else text

    def counted(one: str, many: str, count: int) -> str:
        said = found.ngettext(one, many, count)
        return said if _fits(said, one + many + "{count}") else _counted_in_english(one, many, count)

    return looked_up, counted, found.info().get("language", _ENGLISH).replace("_", "-"), ""


# LANGUAGE is the one in which texts come, as a tag by IETF BCP 47.
_looked_up, _counted, LANGUAGE, TROUBLE = _of_system()
