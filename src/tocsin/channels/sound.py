"""The loudspeaker: plain tones through SDL's mixer, all of them made before the start.

What can be told of a device that goes away: SDL 2 removes a default device without a word to this module, so the mixer
is asked between cues whether it is still there (``mixer.get_init``) and a play that gets no channel counts as failed.
A loudspeaker that is merely switched off, or a Bluetooth one that is out of reach, cannot be told from a silent one:
that is why preflight asks a person.
"""

from collections.abc import Sequence
from typing import Any

from tocsin.channels.device import Channel, DeviceState, Event, Shot, Shown
from tocsin.channels.sdl import import_pygame
from tocsin.channels.synth import CHANNELS, RATE_HZ, pcm
from tocsin.model.pattern import Patterns, SoundPattern, SoundStep
from tocsin.model.rig import Rig
from tocsin.model.schedule import Key
from tocsin.model.timeline import Timeline
from tocsin.units import NS_PER_MS, NS_PER_S

VOICES = 8                             # as many as SDL's mixer has by default; each cue takes one
VOLUME_STEP = 0.1
FIRST_RETRY_NS, LONGEST_RETRY_NS = NS_PER_S, 8 * NS_PER_S
_PREFLIGHT = SoundPattern(steps=(SoundStep(hz=659.2551, level=0.5, lasts_ns=500 * NS_PER_MS),))     # E5, ISO 16


class _Voice:
    """A sound on one of the mixer's channels."""

    def __init__(self, shot: Shot, playing: Any, ends_ns: int) -> None:
        self.shot = shot
        self.playing = playing
        self.ends_ns = ends_ns


class SoundChannel(Channel):
    """The mixer of one process; a higher cue ends a lower one's sound, since two tones at once are neither."""

    name = "sound"

    def __init__(self, rig: Rig) -> None:
        super().__init__(rig)
        self._pygame: Any = None
        self._open = False
        self._ever_open = False
        self._why = "the rig has no [sound]"
        self._patterns: dict[str, SoundPattern] = {}
        self._sounds: dict[str, Any] = {}
        self._voices: dict[Key, _Voice] = {}
        self._volume = rig.sound.volume if rig.sound else 0.0
        self._muted = False
        self._retry_ns: int | None = None
        self._pause_ns = FIRST_RETRY_NS

    def open(self, now_ns: int) -> list[Event]:
        """Open the mixer, or find that there is no loudspeaker."""
        if self.rig.sound is None:
            return [self._state(now_ns, "absent")]
        self._pygame = import_pygame("sound")
        self._open_mixer()
        self._ever_open = self._open
        return [self._state(now_ns, "ready" if self._open else "absent")]

    def load(self, timeline: Timeline, patterns: Patterns) -> None:
        """Make the sounds that the timeline's firings name."""
        names = {firing.pattern for firing in timeline.firings if firing.channel == "sound"}
        self._patterns = {name: patterns.sound[name] for name in sorted(names)}
        self._make_sounds()

    def make_safe(self, now_ns: int) -> None:
        """Silence everything."""
        self._voices.clear()
        if self._open:
            self._pygame.mixer.stop()

    def fire(self, shot: Shot, now_ns: int) -> Shown:
        """Play a shot's sound from its begin; a sound that begins late is not cut."""
        if not self._open:
            return Shown(outcome="skipped", why="absent")
        priority = shot.firing.priority
        louder = [v for v in self._voices.values() if v.shot.firing.priority > priority and v.ends_ns > now_ns]
        if louder:
            return Shown(outcome="skipped", why="outranked")
        for voice in self._voices.values():
            voice.playing.stop()
        self._voices.clear()
        playing = self._sounds[shot.firing.pattern].play()
        if playing is None:
            return Shown(outcome="failed", why="the mixer has no free voice")
        self._voices[shot.key] = _Voice(shot, playing, now_ns + shot.firing.lasts_ns)
        return Shown(outcome="played")

    def end(self, shot: Shot, now_ns: int) -> None:
        """End a shot's sound before its time."""
        voice = self._voices.pop(shot.key, None)
        if voice is not None:
            voice.playing.stop()

    def command(self, verb: str, now_ns: int) -> list[Event]:
        """Mute, louder, softer, or a soft tone for half a second."""
        match verb:
            case "mute":
                self._muted = not self._muted
            case "louder" | "softer":
                step = VOLUME_STEP if verb == "louder" else -VOLUME_STEP
                self._volume = round(min(1.0, max(0.0, self._volume + step)), 3)
                self._muted = False
            case "preflight":
                if self._open:
                    self._sounds[""].play()
                return []
            case _:
                return []
        self._set_volume()
        return [Event(kind="level", at_ns=now_ns, what=self._level())]

    def tick(self, now_ns: int) -> Sequence[Event]:
        """Forget what has ended; between cues look whether the mixer is still there, and open it again."""
        self._voices = {key: voice for key, voice in self._voices.items() if voice.ends_ns > now_ns}
        if self._pygame is None or self._voices or not self._ever_open:
            return []
        if self._open and self._pygame.mixer.get_init() is None:
            self._open = False
            self._why = "the sound device went away: plug it in, or choose another one in the system's sound settings"
            self._retry_ns, self._pause_ns = now_ns + FIRST_RETRY_NS, FIRST_RETRY_NS
            return [self._state(now_ns, "lost")]
        if not self._open and self._retry_ns is not None and now_ns >= self._retry_ns:
            self._pause_ns = min(2 * self._pause_ns, LONGEST_RETRY_NS)
            self._retry_ns = now_ns + self._pause_ns
            self._open_mixer()
            if self._open:
                self._retry_ns = None
                self._make_sounds()
                return [self._state(now_ns, "ready")]
        return []

    def close(self) -> None:
        """Silence and close the mixer."""
        self.make_safe(0)
        if self._pygame is not None:
            self._pygame.mixer.quit()
        self._open = False

    def _open_mixer(self) -> None:
        mixer, sound = self._pygame.mixer, self.rig.sound
        try:
            mixer.init(RATE_HZ, -16, CHANNELS, sound.buffer if sound else 512)
        except self._pygame.error as error:
            # SDL's own silent drivers are taken only by who names them in SDL_AUDIODRIVER.
            self._why = f"no loudspeaker ({str(error).lower()}): plug one in, or check who may use the sound device"
            return
        self._open = mixer.get_init() is not None
        mixer.set_num_channels(VOICES)

    def _make_sounds(self) -> None:
        if not self._open:
            return
        make = self._pygame.mixer.Sound
        self._sounds = {name: make(buffer=pcm(pattern)) for name, pattern in self._patterns.items()}
        self._sounds[""] = make(buffer=pcm(_PREFLIGHT))
        self._set_volume()

    def _set_volume(self) -> None:
        for sound in self._sounds.values():
            sound.set_volume(0.0 if self._muted else self._volume)

    def _level(self) -> str:
        return "muted" if self._muted else f"volume {self._volume * 100:.0f} %"

    def _state(self, now_ns: int, state: DeviceState) -> Event:
        name = f"loudspeaker, {self._level()}" if self._open else "loudspeaker"
        return Event(kind="device", at_ns=now_ns, state=state, name=name, why="" if self._open else self._why)

