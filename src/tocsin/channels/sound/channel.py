"""Play plain tones through SDL's mixer, and words behind them, all of them ready before the start.

A tone is the signal, a word only explains it, and not every laptop can speak. So tones are the same with and without
words: a tone that begins ends any word that still sounds, and a word delays no tone.

When a device goes away, SDL sends AUDIODEVICEREMOVED as the stream to it breaks off (measured with its disk driver;
with ALSA, PulseAudio, WASAPI and Core Audio from memory of its source). The mixer is then opened again between cues,
with a growing pause. The system does not report a loudspeaker that is switched off or turned down, nor a stream that it
moved to another output: that is why a person confirms the preflight. A loudspeaker that was absent from the start is
looked for again at preflight.
"""

import contextlib
import os
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, ClassVar

from tocsin.channels.device import Channel, DeviceState, Event, Shot, ShotResult
from tocsin.channels.sdl import import_pygame
from tocsin.channels.sound.synth import pcm, with_word
from tocsin.model.clock.schedule import Key
from tocsin.model.pattern import Patterns, SoundPattern, SoundStep, lasts_ns
from tocsin.model.plan import ChannelName
from tocsin.model.rig import Rig, Sound
from tocsin.model.samples import RATE_HZ, SIDES, sounds_ns
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

VOICES = 8                             # as many as SDL's mixer has by default; each cue takes one
VOLUME_STEP = 0.1
MOST_SPOKEN_NS = 240 * NS_PER_S        # of tones with their words: 46 MB held ready; a match has some ten seconds
FIRST_RETRY_NS, LONGEST_RETRY_NS = NS_PER_S, 8 * NS_PER_S
BELOW_ALL_CUES = -1
WORD = "word"                          # the part of a firing that is spoken, in its journal's record
_NO_ROOM = tr(
    "some words are only shown: all sounds together last more than {most_spoken} s",
    most_spoken=MOST_SPOKEN_NS // NS_PER_S,
)
_FORMAT = (RATE_HZ, -16, SIDES)        # what the samples are; 16 bits with a sign
_PREFLIGHT = SoundPattern(steps=(SoundStep(hz=659.2551, level=0.5, lasts_ns=500 * NS_PER_MS),))     # E5, ISO 16
_PREFLIGHT_KEY: Key = (-1, 0)


class _PlayingSound:
    """A sound on one of the mixer's channels: its tone ends at ``tone_ends_ns``, its word, if it has one, later."""

    def __init__(self, playing: Any, priority: int, tone_ends_ns: int, ends_ns: int) -> None:
        self.playing = playing
        self.priority = priority
        self.tone_ends_ns = tone_ends_ns
        self.ends_ns = ends_ns


class SoundChannel(Channel):
    """The mixer of one process; the sound of a higher cue ends that of a lower one, since two tones at once are
    unclear."""

    name: ClassVar[ChannelName] = "sound"

    def __init__(self, rig: Rig) -> None:
        super().__init__(rig)
        self._pygame: Any = None
        self._is: DeviceState = "absent"
        self._why = tr("the rig has no [sound]")
        self._patterns: dict[str, SoundPattern] = {}
        self._sounds: dict[str, Any] = {}
        self._words: dict[str, bytes] = {}         # by cue
        self._with_words: list[tuple[str, str]] = []        # a tone's pattern, and the cue whose word follows it
        self._spoken: dict[tuple[str, str], Any] = {}       # both as one sound
        self._note = ""                            # why words are not spoken
        self._no_room = False                      # for all words that are to be spoken
        self._untold = False
        self._test_tone: Any = None
        self._voices: dict[Key, _PlayingSound] = {}
        self._volume = rig.sound.volume if rig.sound else 0.0
        self._muted = False
        self._retry_ns = 0
        self._pause_ns = FIRST_RETRY_NS
        self._coming_ns = 0                        # when the last shot begins that was told ahead

    def open(self, now_ns: int) -> list[Event]:
        """Open the mixer, or find that there is no loudspeaker. SDL is not loaded for a rig without sound."""
        if self.rig.sound is not None:
            self._pygame = import_pygame("sound")
            self._open_mixer(self.rig.sound)
        return [self._state(now_ns)]

    def load(self, timeline: Timeline, patterns: Patterns) -> None:
        """Make the sounds of the timeline's firings, with the words of their cues."""
        own = sorted({(firing.pattern, firing.cue) for firing in timeline.firings if firing.channel == "sound"})
        self._patterns = {name: patterns.sound[name] for name, _ in own}
        self._with_words = [(name, cue) for name, cue in own if cue in self._words]
        self._make_sounds()

    def take_words(self, words: Mapping[str, bytes], note: str) -> None:
        """Take the words by cue: 16-bit little-endian stereo samples at 48 kHz. ``note`` says why some are not spoken;
        it stands beside the loudspeaker's name."""
        self._words = dict(words)
        self._untold = self._untold or note != self._note
        self._note = note

    def make_safe(self, now_ns: int) -> bool:
        """Silence everything; a mixer that is gone is silent already."""
        self._voices.clear()
        self._coming_ns = 0
        if self._is == "ready":
            self._pygame.mixer.stop()
        return True

    def prepare(self, shot: Shot, now_ns: int) -> None:
        """Keep the time free: opening the mixer now would make the shot late."""
        self._coming_ns = max(self._coming_ns, shot.begin_ns)

    def fire(self, shot: Shot, now_ns: int) -> ShotResult:
        """Play a shot's sound from its begin; a late sound is not cut."""
        if self._is != "ready":
            lost = self._is == "lost"
            return (
                ShotResult(outcome="failed", why=tr("loudspeaker lost"))
                if lost
                else ShotResult(outcome="skipped", why="absent")
            )
        if any(v.priority > shot.firing.priority and v.tone_ends_ns > now_ns for v in self._voices.values()):
            return ShotResult(outcome="skipped", why="outranked")
        # Stopped first: SDL may give the new sound the mixer channel of one that has just ended, and a stop of that
        # would silence the new one.
        for voice in self._voices.values():
            voice.playing.stop()
        self._voices.clear()
        firing, cut_ms = shot.firing, self._cut_ms(shot)
        spoken = None if cut_ms else self._spoken.get((firing.pattern, firing.cue))
        sound = spoken or self._sounds[firing.pattern]
        playing = sound.play(0, cut_ms)
        if playing is None:
            return ShotResult(outcome="failed", why=tr("the mixer has no free voice"))
        tone_ends_ns = now_ns + firing.lasts_ns
        ends_ns = max(tone_ends_ns, now_ns + round(sound.get_length() * NS_PER_S)) if spoken else tone_ends_ns
        self._voices[shot.key] = _PlayingSound(playing, firing.priority, tone_ends_ns, ends_ns)
        return ShotResult(outcome="played", by=(WORD,) if spoken else ())

    def end(self, shot: Shot, now_ns: int) -> None:
        """End a shot's sound before its time."""
        voice = self._voices.pop(shot.key, None)
        if voice is not None:
            voice.playing.stop()

    def command(self, verb: str, now_ns: int) -> list[Event]:
        """Mute, louder, softer: each reports a "level" event; preflight plays a soft tone for half a second."""
        match verb:
            case "mute":
                self._muted = not self._muted
            case "louder" | "softer":
                step = VOLUME_STEP if verb == "louder" else -VOLUME_STEP
                self._volume = round(min(1.0, max(0.0, self._volume + step)), 3)
                self._muted = False
            case "preflight":
                return self._preflight(now_ns)
            case _:
                return []
        self._set_volume()
        return [Event(kind="level", at_ns=now_ns, what=self._level())]

    def tick(self, now_ns: int) -> Sequence[Event]:
        """Forget ended sounds, check the device; open a lost one again between cues."""
        self._voices = {key: voice for key, voice in self._voices.items() if voice.ends_ns > now_ns}
        if self._untold:
            self._untold = False
            return [self._state(now_ns)]
        if self._is == "ready" and self._device_removed():
            self._voices.clear()
            self._is, self._why = (
                "lost", tr("the sound device went away: plug it in, or choose another as the system's"),
            )
            self._pause_ns, self._retry_ns = FIRST_RETRY_NS, now_ns + FIRST_RETRY_NS
            return [self._state(now_ns)]
        if self._is == "lost" and now_ns >= self._retry_ns and now_ns > self._coming_ns:
            return self._try_again(now_ns)
        return []

    def close(self) -> None:
        """Silence and close the mixer."""
        if self._pygame is not None:
            self.make_safe(0)
            self._pygame.mixer.quit()
            self._pygame.display.quit()
            self._is, self._why = "absent", "closed"
            self._pygame = None

    def _preflight(self, now_ns: int) -> list[Event]:
        events = self._try_again(now_ns) if self._is != "ready" else []
        if self._is == "ready" and not self._voices:
            playing = self._test_tone.play()
            if playing is not None:
                ends_ns = now_ns + lasts_ns(_PREFLIGHT)
                self._voices[_PREFLIGHT_KEY] = _PlayingSound(playing, BELOW_ALL_CUES, ends_ns, ends_ns)
        return events

    def _try_again(self, now_ns: int) -> list[Event]:
        """Open the mixer anew; return the event of it if that went well."""
        if self._pygame is None or self.rig.sound is None:
            return []
        self._pygame.mixer.quit()
        self._open_mixer(self.rig.sound)
        if self._is != "ready":
            self._pause_ns = min(2 * self._pause_ns, LONGEST_RETRY_NS)
            self._retry_ns = now_ns + self._pause_ns
            return []
        return [self._state(now_ns)]

    def _open_mixer(self, sound: Sound) -> None:
        """Open the mixer; where that fails the state stays what it was.

        SDL takes its own silent drivers only when SDL_AUDIODRIVER names them, so a mixer that opens is meant.
        """
        mixer = self._pygame.mixer
        try:
            with _hushed():
                # No other format: raw samples would sound at another pitch. SDL converts to what the device has.
                mixer.init(*_FORMAT, sound.buffer, allowedchanges=0)
                self._pygame.display.init()        # brings the events; SDL_VIDEODRIVER is dummy here
        except (self._pygame.error, NotImplementedError) as error:
            # NotImplementedError: a pygame that was built without its mixer.
            self._why = tr(
                "no loudspeaker ({error}): plug one in, or check who may use the sound device",
                error=str(error).lower(),
            )
            return
        if mixer.get_init() != _FORMAT:
            self._why = tr(
                "no loudspeaker for 48 kHz stereo: the mixer opened as {get_init}", get_init=mixer.get_init(),
            )
            mixer.quit()
            return
        mixer.set_num_channels(VOICES)
        self._pygame.event.clear()                 # what is there at the start, and what went before this opening
        self._is, self._why = "ready", ""
        self._make_sounds()

    def _device_removed(self) -> bool:
        """Return whether the stream that the mixer feeds has broken off; other devices come with a ``which`` of 0."""
        gone = self._pygame.AUDIODEVICEREMOVED
        return any(e.type == gone and e.which and not e.iscapture for e in self._pygame.event.get())

    def _make_sounds(self) -> None:
        """Make all sounds, also those of an earlier mixer, which closing it has made useless."""
        if self._is != "ready":
            return
        make = self._pygame.mixer.Sound
        tones = {name: pcm(pattern) for name, pattern in self._patterns.items()}
        self._sounds = {name: make(buffer=tone) for name, tone in tones.items()}
        self._spoken = {}
        made: dict[tuple[str, bytes], Any] = {}             # many cues may say the same behind the same tone
        room = MOST_SPOKEN_NS
        for name, cue in self._with_words:
            word = self._words[cue]
            if (name, word) not in made:
                samples = with_word(self._patterns[name], tones[name], word)
                room -= sounds_ns(samples)
                made[name, word] = make(buffer=samples) if room >= 0 else None
            if made[name, word] is not None:
                self._spoken[name, cue] = made[name, word]
        self._untold |= (room < 0) != self._no_room
        self._no_room = room < 0
        self._test_tone = make(buffer=pcm(_PREFLIGHT))
        self._set_volume()

    def _cut_ms(self, shot: Shot) -> int:
        """Return after how long the mixer cuts a sound that would ring on past the end of everything, 0 for not."""
        cut = shot.firing.lasts_ns < lasts_ns(self._patterns[shot.firing.pattern])
        return max(1, shot.firing.lasts_ns // NS_PER_MS) if cut else 0

    def _set_volume(self) -> None:
        if self._is != "ready":
            return
        for sound in (*self._sounds.values(), *self._spoken.values(), self._test_tone):
            sound.set_volume(0.0 if self._muted else self._volume)

    def _level(self) -> str:
        return "muted" if self._muted else tr("volume {volume:.0f} %", volume=self._volume * 100)

    def _state(self, now_ns: int) -> Event:
        name = tr("loudspeaker, {level}", level=self._level()) if self._is == "ready" else "loudspeaker"
        why = (self._note or _NO_ROOM * self._no_room) if self._is == "ready" else self._why
        return Event(kind="device", at_ns=now_ns, state=self._is, name=name, why=why)


@contextlib.contextmanager
def _hushed() -> Iterator[None]:
    """Keep ALSA's eight lines off stderr, which the conductor journals as faults: pygame's error says it once."""
    kept, null = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(null, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(null)
