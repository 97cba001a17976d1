"""Try the screen and the loudspeaker: a word to read, a sound to name."""

from collections.abc import Callable, Iterator

from tocsin.features.devices.tryout.channel import Setting, TriedChannel
from tocsin.features.devices.tryout.forms import FORMS
from tocsin.features.devices.tryout.people import LEAVE_OUT, YES
from tocsin.features.devices.tryout.remedies import screen_fixes, sound_fixes
from tocsin.features.devices.tryout.result import Tried
from tocsin.features.devices.tryout.verdict import DeviceOutcome, Question, find_out
from tocsin.model.display.status import Status
from tocsin.model.plan import ChannelName
from tocsin.translation import tr

_QUIET = tr("Sound comes: first turn it low, and keep ears off the speaker.")
_CARD = (tr("A word comes here. Which one?"), tr("Answer with the keys 1 to 4, here or in the terminal"))


def try_screen(setting: Setting) -> Iterator[Tried]:
    """Yield the screen's result, if the rig has one. Raises LeftError, EndedError."""
    screen = setting.rig.screen
    if screen is None:
        return

    def show(channel: TriedChannel) -> None:
        channel.show(Status(phase="standby", card=_CARD))

    found, name = _noticed(setting, "screen", tr("Which word is on the screen?"), show)
    fixes = screen_fixes(screen) if found.verdict == "not_confirmed" else ()
    yield Tried(device="screen", channel="screen", verdict=found.verdict, name=name, why=found.why, fixes=fixes)


def try_sound(setting: Setting) -> Iterator[Tried]:
    """Yield the loudspeaker's result, if the rig has one. Raises LeftError, EndedError."""
    sound = setting.rig.sound
    if sound is None:
        return
    said = setting.people.ask(
        tr("{quiet} {yes}: play, {leave_out}: leave it out", quiet=_QUIET, yes=YES, leave_out=LEAVE_OUT),
        (YES, LEAVE_OUT),
    )
    found, name = DeviceOutcome("left_out"), ""
    if said == YES:
        found, name = _noticed(setting, "sound", tr("What did you hear?"))
    fixes = sound_fixes(sound, setting.found.sound.outputs) if found.verdict == "not_confirmed" else ()
    yield Tried(device="loudspeaker", channel="sound", verdict=found.verdict, name=name, why=found.why, fixes=fixes)


def _noticed(
    setting: Setting, name: ChannelName, text: str, ready: Callable[[TriedChannel], None] = lambda channel: None
) -> tuple[DeviceOutcome, str]:
    """Return what came of a channel that is one device, and what it calls itself."""
    with TriedChannel(setting.rig, name, setting.people) as channel:
        if not channel.ready([""]):
            return DeviceOutcome("absent", why=channel.why()), ""
        ready(channel)

        def gone() -> bool:
            channel.turn()
            return not channel.ready([""])

        found = find_out(Question(text, FORMS[name], channel.fire, gone), setting.people, setting.random)
        return (found._replace(why=channel.why()) if found.verdict == "lost" else found), channel.name()
