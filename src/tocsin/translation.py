"""Give people every text in their language: ``tr("...")`` marks a text, and looks it up.

All marked texts stand in one list, ``locale/tocsin.pot`` (a template of GNU gettext; ``python -m tests.support.texts``
makes it anew). English alone is shipped: a text without a translation stays as it is. Who translates makes
``LANGUAGE/LC_MESSAGES/tocsin.mo`` in a folder, and names that in ``TOCSIN_LOCALE``; the language is the system's, by
the variables that gettext reads. It is chosen once, as the program starts.

A text is a sentence with named places, since another language may need another order. What programs read (ids, codes,
keys of files) is never marked.
"""

import os
from collections.abc import Callable

DOMAIN = "tocsin"
FOLDER = "TOCSIN_LOCALE"               # the variable that names a folder of translations


def tr(text: str, /, **facts: object) -> str:
    """Return a text in the language of whoever reads it, with its facts in their places.

    >>> tr("{name} is gone", name="Pad 2"), tr("no fact, no {place}")
    ('Pad 2 is gone', 'no fact, no {place}')
    """
    found = _looked_up(text) if text else text         # of an empty one gettext returns a catalogue's head
    return found.format_map(facts) if facts else found


def _of_system() -> Callable[[str], str]:
    folder = os.environ.get(FOLDER)
    if not folder:
        return str                     # the usual case pays nothing
    import gettext

    return gettext.translation(DOMAIN, folder, fallback=True).gettext


_looked_up = _of_system()
