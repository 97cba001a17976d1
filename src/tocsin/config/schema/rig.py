"""Define the file format ``tocsin-rig/1``."""

# ruff: noqa: RUF012  (pydantic copies the defaults of each table)

from typing import Annotated, ClassVar

from pydantic import BeforeValidator, Field

from tocsin.config.schema.references import DeviceName, PortName
from tocsin.config.schema.table import Table, needed
from tocsin.config.schema.times import clock
from tocsin.config.schema.values import (
    MILLIAMPERES,
    MILLISECONDS,
    Day,
    Flag,
    Guid,
    Id,
    KeyName,
    LatencyNs,
    Share,
    Text,
    Title,
    UsbIds,
    choice,
    key_name,
    list_of,
    one_of,
    one_of_numbers,
    whole,
)
from tocsin.model.plan import ROLES, Role
from tocsin.model.rig import (
    LATER_KEYS,
    BoardPlace,
    ColourOrder,
    Keys,
    Light,
    Pad,
    Priority,
    Protocol,
    Rig,
    Screen,
    Sound,
    Start,
    StartBy,
)
from tocsin.translation import tr
from tocsin.units import NS_PER_S

MOST_KEYS = 100                        # about as many as a keyboard has
KeyList = Annotated[list[KeyName], list_of(key_name), Field(max_length=MOST_KEYS)]
_KEYS, _LIGHT = Keys(), Light()


class StartTable(Table):
    """The ``[start]`` table."""

    heading: ClassVar[str] = "[start]"
    by: Annotated[StartBy, choice("count_in", "countdown", "horn", "press")] = "count_in"
    count_in: Annotated[int, clock(NS_PER_S, 60 * NS_PER_S)] = 5 * NS_PER_S
    late_ms: Annotated[int | None, whole(-500, 2000, MILLISECONDS)] = None       # below 0: people anticipate a beat
    spread_ms: Annotated[int | None, whole(10, 2000, MILLISECONDS)] = None

    def build(self) -> Start:
        """Return how the clock is started."""
        return Start(
            by=self.by, count_in_ns=self.count_in, late_ms=self.late_ms, spread_ms=self.spread_ms
        )


class KeysTable(Table):
    """The ``[keys]`` table; an action that is left out keeps its default keys, an empty list removes them.

    A default key that came later than this format makes way for what the file does with it."""

    heading: ClassVar[str] = "[keys]"
    start: KeyList = list(_KEYS.start)
    scrap: KeyList = list(_KEYS.scrap)
    hold: KeyList = list(_KEYS.hold)
    begin: KeyList = list(_KEYS.begin)
    variant: KeyList = list(_KEYS.variant)
    earlier: KeyList = list(_KEYS.earlier)
    later: KeyList = list(_KEYS.later)
    preflight: KeyList = list(_KEYS.preflight)
    mute: KeyList = list(_KEYS.mute)
    louder: KeyList = list(_KEYS.louder)
    softer: KeyList = list(_KEYS.softer)
    leave: KeyList = list(_KEYS.leave)
    clear: KeyList = list(_KEYS.clear)
    yes: KeyList = list(_KEYS.yes)
    no: KeyList = list(_KEYS.no)
    repeat: KeyList = list(_KEYS.repeat)
    drop: KeyList = list(_KEYS.drop)
    crew: KeyList = list(_KEYS.crew)
    battery: KeyList = list(_KEYS.battery)
    details: KeyList = list(_KEYS.details)
    undo: KeyList = list(_KEYS.undo)
    sync: KeyList = list(_KEYS.sync)
    display: KeyList = list(_KEYS.display)
    all_keys: KeyList = list(_KEYS.all_keys)
    phones: KeyList = list(_KEYS.phones)
    phones_off: KeyList = list(_KEYS.phones_off)
    call: Annotated[dict[Id, KeyList], Field(max_length=MOST_KEYS)] = {}
    marks: Annotated[dict[Id, KeyList], Field(max_length=MOST_KEYS)] = {}

    def build(self) -> Keys:
        """Return the keys by what they do."""
        plain = {name: tuple(getattr(self, name)) for name in ACTIONS}
        taken = self._taken()
        for name, candidates in LATER_KEYS.items():
            if name not in self.model_fields_set:
                plain[name] = tuple(key for key in candidates if key not in taken)[:1]
                taken.update(plain[name])
        return Keys(
            **plain,
            call={cue: tuple(keys) for cue, keys in self.call.items()},
            marks={label: tuple(keys) for label, keys in self.marks.items()},
        )

    def _taken(self) -> set[str]:
        """Return the keys that the file itself gives to something."""
        lists = [getattr(self, name) for name in ACTIONS if name in self.model_fields_set]
        return {key for keys in (*lists, *self.call.values(), *self.marks.values()) for key in keys}


ACTIONS: tuple[str, ...] = tuple(name for name in KeysTable.model_fields if name not in ("call", "marks"))


class PadTable(Table):
    """A ``[[pad]]``."""

    heading: ClassVar[str] = "[[pad]]"
    role: Annotated[Role, BeforeValidator(one_of(*ROLES, people=True))] = needed('"driver"')
    usb: UsbIds = ""
    guid: Guid = ""
    name: Text = ""
    order: Annotated[int | None, whole(1, 16)] = None
    strength: Share = 1.0
    latency_ms: LatencyNs = 0
    confirmed: Day = ""
    buttons: Annotated[dict[str, Text], Field(max_length=64)] = {}
    device: DeviceName = ""
    hidapi: Flag = False

    def build(self) -> Pad:
        """Return the pad."""
        return Pad(
            role=self.role,
            usb=self.usb,
            guid=self.guid,
            name=self.name,
            order=self.order,
            strength=self.strength,
            latency_ns=self.latency_ms,
            confirmed=self.confirmed,
            buttons=dict(self.buttons),
            device=self.device,
            hidapi=self.hidapi,
        )


class LightDevice(Table):
    """The ``[light]`` table."""

    heading: ClassVar[str] = "[light]"
    device: DeviceName = ""
    port: PortName = "auto"
    usb: UsbIds = ""
    protocol: Annotated[Protocol | None, choice("tpm2", "adalight")] = None
    leds: Annotated[int, whole(1, 2000)] = 30
    baud: Annotated[int, whole(9600, 4_000_000)] = 115_200
    order: Annotated[ColourOrder, choice("RGB", "RBG", "GRB", "GBR", "BRG", "BGR")] = "RGB"
    max_ma: Annotated[int, whole(20, 60_000, MILLIAMPERES)] = 400
    brightness: Share = 1.0
    latency_ms: LatencyNs = 0
    confirmed: Day = ""

    def build(self) -> Light:
        """Return the strip's controller."""
        return Light(
            device=self.device,
            port=self.port,
            usb=self.usb,
            protocol=self._protocol(),
            leds=self.leds,
            baud=self.baud,
            order=self.order,
            max_ma=self.max_ma,
            brightness=self.brightness,
            latency_ns=self.latency_ms,
            confirmed=self.confirmed,
        )

    def _protocol(self) -> Protocol:
        """Return the protocol. One that is left out was Adalight before it was TPM2, and whoever confirms a strip now
        has its protocol written beside the day: a day without one means that people saw it by Adalight."""
        return self.protocol or ("adalight" if self.confirmed else _LIGHT.protocol)


class SoundDevice(Table):
    """The ``[sound]`` table."""

    heading: ClassVar[str] = "[sound]"
    buffer: Annotated[int, one_of_numbers(256, 512, 1024, 2048, 4096)] = 512
    volume: Share = 0.8
    latency_ms: LatencyNs = 0
    confirmed: Day = ""
    speech: Flag | None = None
    voice: Text = ""

    def build(self) -> Sound:
        """Return the loudspeaker."""
        return Sound(
            buffer=self.buffer,
            volume=self.volume,
            latency_ns=self.latency_ms,
            confirmed=self.confirmed,
            speech=self.speech,
            voice=self.voice,
        )


class ScreenDevice(Table):
    """The ``[screen]`` table."""

    heading: ClassVar[str] = "[screen]"
    display: Annotated[int, whole(0, 15)] = 0
    fullscreen: Flag = False
    width: Annotated[int, whole(320, 16_384)] = 1280
    height: Annotated[int, whole(200, 16_384)] = 720
    latency_ms: LatencyNs = 0
    confirmed: Day = ""

    def build(self) -> Screen:
        """Return the display."""
        return Screen(
            display=self.display,
            fullscreen=self.fullscreen,
            width=self.width,
            height=self.height,
            latency_ns=self.latency_ms,
            confirmed=self.confirmed,
        )


class BoardTable(Table):
    """The ``[board]`` table."""

    heading: ClassVar[str] = "[board]"
    beside_robot: Flag = False
    port: Annotated[int | None, whole(1024, 65_535)] = None      # below, only administrators may

    def build(self) -> BoardPlace:
        """Return where phones may come from."""
        return BoardPlace(beside_robot=self.beside_robot, port=self.port)


class RigFile(Table):
    """A whole rig file."""

    heading: ClassVar[str] = tr("this rig")
    name: Title = needed('"Practice bench"')
    drives_robot: Flag = True
    priority: Annotated[Priority, choice("ordinary", "raised", "realtime")] = "raised"
    start: StartTable = StartTable()
    keys: KeysTable = KeysTable()
    pad: Annotated[list[PadTable], Field(max_length=16)] = []
    light: LightDevice | None = None
    sound: SoundDevice | None = None
    screen: ScreenDevice | None = None
    board: BoardTable = BoardTable()

    def build(self) -> Rig:
        """Return the rig."""
        return Rig(
            name=self.name,
            drives_robot=self.drives_robot,
            priority=self.priority,
            start=self.start.build(),
            keys=self.keys.build(),
            pads=tuple(table.build() for table in self.pad),
            light=self.light.build() if self.light else None,
            sound=self.sound.build() if self.sound else None,
            screen=self.screen.build() if self.screen else None,
            board=self.board.build(),
        )
