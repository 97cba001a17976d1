"""Try the devices: pads, strip, screen, loudspeaker one after another, until a person has confirmed each or not.

The workers of a match drive the devices, so that people confirm what they will feel, see and hear there.
"""

from collections.abc import Callable, Iterator, Sequence
from itertools import chain
from pathlib import Path
from random import Random

import msgspec

from tocsin import monotime
from tocsin.config import bundle
from tocsin.config.load import load_rig
from tocsin.config.write.rig_edit import write_values
from tocsin.errors import TocsinError
from tocsin.features.devices.inventory import take_inventory
from tocsin.features.devices.plugged_rig import beyond_roles, rig_of
from tocsin.features.devices.probed import KINDS, Kind, ProbeResults
from tocsin.features.devices.probing import ask_probes
from tocsin.features.devices.tryout.channel import Setting
from tocsin.features.devices.tryout.pads import PadsTry
from tocsin.features.devices.tryout.people import Dialogue, EndedError, LeftError
from tocsin.features.devices.tryout.result import Tried, TryoutResult, confirmed_rig, places_of
from tocsin.features.devices.tryout.senses import try_screen, try_sound
from tocsin.features.devices.tryout.strip import StripTry
from tocsin.model.plan import CHANNELS, ChannelName
from tocsin.model.rig import Rig
from tocsin.runner.run import alone
from tocsin.translation import tr

Say = Callable[[str], None]
_KINDS: dict[ChannelName, Kind] = {"rumble": "pads", "light": "ports", "screen": "displays", "sound": "sound"}
_INTRO = tr("Each device does one of a few things: say which. Two right answers in a row confirm it.")


class TryoutRequest(msgspec.Struct, frozen=True, kw_only=True):
    """The request of the command line: the rig's name or file, None for one made of the plugged-in devices; the
    channels whose devices are tried."""

    rig: str | None = None
    only: tuple[ChannelName, ...] = CHANNELS


def try_devices(wish: TryoutRequest, say: Say) -> tuple[TryoutResult, Rig]:
    """Try the devices with people; return the result, and the rig with the days of the confirmations.

    Those days are written into a rig's own file. After a signal nothing is written, and its exit code is in the result.
    Raises DeviceError while another Tocsin runs, and the errors of loading a rig.
    """
    rig = load_rig(wish.rig) if wish.rig else Rig(name="")
    with alone():
        # A new rig is made of all that is there, whatever of it is tried.
        kinds = [_KINDS[channel] for channel in wish.only] if wish.rig else KINDS
        found = ask_probes(rig, kinds=kinds)
        if wish.rig is None:
            _tell_of_new(found, wish.only, say)
        people = Dialogue(say)
        setting = Setting(people, rig if wish.rig else rig_of(found), found, Random(), new=wish.rig is None)
        return _Tryout(wish, setting).run()


def _tell_of_new(found: ProbeResults, only: Sequence[ChannelName], say: Say) -> None:
    """Say what a rig that is made of what is plugged in will lack: of what is tried, and of pads."""
    for missing in take_inventory(found, None, power="", packages=(), today=monotime.today()).missing:
        if missing.channel is None or missing.channel in only:
            say(tr("Not there: {device}: {fix}", device=missing.device, fix=missing.fix))
    if beyond := beyond_roles(found):
        say(beyond)


class _Tryout:
    """One walk along the devices."""

    def __init__(self, wish: TryoutRequest, setting: Setting) -> None:
        self._wish = wish
        self._setting = setting
        self._say = setting.people.say
        self._file = _own_file(wish.rig)
        self._text = self._file.read_bytes() if self._file else b""
        self._tried: list[Tried] = []
        self._pads = PadsTry(setting)

    def run(self) -> tuple[TryoutResult, Rig]:
        """Walk, then write down what was confirmed."""
        rig = self._setting.rig
        result = TryoutResult(rig=rig.name, tried=())
        try:
            self._setting.people.start()
            self._say(_INTRO)
            self._walk()
        except LeftError:
            result = msgspec.structs.replace(result, left=True)
        except EndedError as error:
            result = msgspec.structs.replace(result, left=True, exit=error.ending.exit)
        finally:
            self._setting.people.stop()
        result = msgspec.structs.replace(result, tried=tuple(self._tried), held=self._pads.held, hub=self._pads.hub)
        if result.exit:
            return msgspec.structs.replace(result, note=tr("Ended by a signal: nothing was written.")), rig
        today = monotime.today().isoformat()
        return self._written(result), confirmed_rig(rig, self._setting.found.ports, result, today)

    def _walk(self) -> None:
        walks: dict[ChannelName, Callable[[], Iterator[Tried]]] = {
            "rumble": self._pads.walk,
            "light": StripTry(self._setting).walk,
            "screen": lambda: try_screen(self._setting),
            "sound": lambda: try_sound(self._setting),
        }
        for channel in self._wish.only:
            for one in walks[channel]():
                self._tried.append(one)
                for line in told(one):
                    self._say(line)

    def _written(self, result: TryoutResult) -> TryoutResult:
        """Write the days of what was confirmed into the rig's own file; say where not."""
        places = places_of(result.tried, monotime.today(), self._setting.rig)
        if self._setting.new or not places:
            return result
        if self._file is None:
            hint = tr(
                "`tocsin init my_team` makes a copy of your own; then --rig my_team/rigs/{rig}.toml",
                rig=self._wish.rig,
            )
            note = tr("A bundled rig is not written: nobody else has your devices. {hint}", hint=hint)
            return msgspec.structs.replace(result, note=note)
        try:
            if self._file.read_bytes() != self._text:
                note = tr(
                    "{file} was changed by others: nothing was written into it. Try the devices again.",
                    file=self._file,
                )
                return msgspec.structs.replace(result, note=note)
            write_values(self._file, places)
        except (OSError, TocsinError) as error:
            return msgspec.structs.replace(result, note=tr("Nothing was written: {error}", error=error))
        return msgspec.structs.replace(result, written=str(self._file))


def told(one: Tried) -> Iterator[str]:
    """Yield the result of a device in words."""
    name = f" ({one.name})" if one.name else ""
    yield f"{one.device.capitalize()}{name}: {one.word}{f': {one.why}' if one.why else ''}"
    yield from (f"    {fix}" for fix in one.fixes)


def told_at_the_end(result: TryoutResult) -> Iterator[str]:
    """Yield the closing sentences."""
    yield tr("Result")
    yield from (f"  {line}" for line in _short(result))


def _short(result: TryoutResult) -> Iterator[str]:
    yield from chain.from_iterable(list(told(one))[:1] for one in result.tried)
    if result.left:
        yield (
            tr("Ended before all was fully tried.") if result.tried
            else tr("Ended before the first device was fully tried.")
        )
    elif not result.tried:
        yield tr("nothing was tried")
    if result.hub is not None:
        yield tr("All pads at once: {how}", how=tr("held") if result.hub.holds else result.hub.why)
    if result.written:
        yield tr("{written} has the day of each confirmed device.", written=result.written)
    if result.note:
        yield result.note


def absent_of(result: TryoutResult, asked: tuple[ChannelName, ...]) -> tuple[ChannelName, ...]:
    """Return the requested channels that had no device."""
    if result.left:
        return ()
    there = {one.channel for one in result.tried if one.verdict != "absent"}
    return tuple(channel for channel in asked if channel not in there)


def _own_file(rig: str | None) -> Path | None:
    """Return the file that a rig's argument names, None for a bundled rig."""
    if rig is None or not bundle.is_file_argument(rig) or bundle.holds(Path(rig)):
        return None
    return Path(rig)
