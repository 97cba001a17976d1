"""Keep until when somebody's word holds that the field is clear: people walk in as soon as nothing seems to happen."""

from tocsin.translation import tr
from tocsin.units import NS_PER_S

HOLDS_NS = 30 * NS_PER_S               # own choice, no source: a look around, a last word, the start


class FieldClear:
    """The word of a person that nobody is on the field; it lapses. ``key`` is the key that says so."""

    def __init__(self, key: str) -> None:
        self._key = key
        self.until_ns: int | None = None
        self._lapsed = False

    def say(self, now_ns: int) -> None:
        """Take the word; it holds from now on."""
        self.until_ns = now_ns + HOLDS_NS
        self._lapsed = False

    def lapses(self, now_ns: int) -> bool:
        """Return whether the word has just lapsed; True once."""
        if self.until_ns is None or now_ns < self.until_ns:
            return False
        self.until_ns = None
        self._lapsed = True
        return True

    def slept(self) -> None:
        """Let the word lapse: the laptop slept, and nobody knows for how long nobody looked."""
        if self.until_ns is not None:
            self.until_ns = 0

    def forget(self) -> None:
        """Begin anew, for another round."""
        self.until_ns = None
        self._lapsed = False

    @property
    def why_not_yet(self) -> str:
        """Return what to do once the word has lapsed, an empty text otherwise."""
        if not self._lapsed:
            return ""
        look = tr("look again, and say so at the laptop")
        if self._key:
            look = tr("look again, then press {key} at the laptop", key=self._key)
        return tr("the field was called clear more than {holds} s ago: {look}", holds=HOLDS_NS // NS_PER_S, look=look)
