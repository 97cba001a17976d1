"""A drill's screens in every state and size: nothing overlaps or is cut off, and what counts is large."""

from pathlib import Path
from types import SimpleNamespace

import pytest

from tocsin.channels.screen.composer import Composer
from tocsin.channels.screen.drawing import Painter
from tocsin.channels.screen.field import Box
from tocsin.channels.screen.layout import CAP, ink
from tocsin.channels.sdl import import_pygame
from tocsin.config import bundle
from tocsin.config.drills import load_drill
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.round_files import Session
from tocsin.journal import records
from tocsin.model.clock.origins import Origin
from tocsin.model.display.status import DeviceFact, Status
from tocsin.model.safety import FlashGuard
from tocsin.model.timeline.timeline import MATCH
from tocsin.runner.ending import Ending
from tocsin.runner.keymap import Keymap, with_scribe_keys
from tocsin.runner.options import RunOptions
from tocsin.runner.phones.boards import Boards
from tocsin.units import NS_PER_S

pygame = import_pygame("screen")
pygame.font.init()
PAINTER = Painter(pygame)
SIZES = [(640, 360), (1280, 720), (720, 1280)]
ORIGIN_NS = 1000 * NS_PER_S
FOLDER = Path("/media/a-stick-that-is-gone/2031-03-01_10-00-00.123Z_practice-12-second-field")
DEVICES = tuple(DeviceFact(what=what, state="ready") for what in ("driver", "operator", "light", "screen", "sound"))


class BetweenRounds:
    """A drill between its rounds, as a person leads it from one to the next."""

    def __init__(self, drill):
        self.found = load_drill(drill, "practice_bench")
        rig = with_scribe_keys(self.found.files.rig, self.found.drill.marks)
        found = self.found._replace(files=self.found.files._replace(rig=rig))
        self.rounds = Rounds(found, RunOptions(rig="practice_bench"), Session(name=drill, key="k", seed=3))
        self.keymap = Keymap(rig)
        self.piece = self.rounds.piece(0)
        self.phase, self.kept = "standby", []

    @property
    def stage(self):
        match = SimpleNamespace(
            record=SimpleNamespace(kept=self.kept), timeline=self.piece.timeline,
            lifecycle=SimpleNamespace(phase=self.phase),
        )  # fmt: skip
        return SimpleNamespace(
            keymap=self.keymap, match=match, last_folder=FOLDER, wire_run=1, wished_by="", boards=Boards(),
        )  # fmt: skip

    def act(self, *actions):
        for action in actions:
            self.rounds.act(action, self.stage, ORIGIN_NS)

    def ready(self):
        """Answer what is asked before a round."""
        self.act(*["yes"] * len(self.found.drill.questions), "clear")

    def end(self, contact_s, home_s):
        """Let a round end, a contact held until a match second and home at another."""
        self.phase = "over"
        self.kept = [
            records.OriginRecord(at_ns=ORIGIN_NS, anchor=MATCH, origin_ns=ORIGIN_NS, cause="start", error_ms=60),
            _mark("contact", 110, contact_s), _mark("home", home_s, None), _mark("turned", 116, None),
            records.End(at_ns=ORIGIN_NS + 142 * NS_PER_S, outcome="over", exit=0),
        ]  # fmt: skip
        self.rounds.ended(self.stage, Ending(outcome="over"), ORIGIN_NS)

    def next(self):
        self.act("start")
        self.piece = self.rounds.piece(0)
        self.phase = "standby"
        self.act("clear")

    def running(self, size, after_s):
        """Return what stands on the window so long after a round has begun, no cue showing."""
        origin = Origin(anchor=MATCH, origin_ns=ORIGIN_NS - self.piece.at.offset_ns)
        keys = self.keymap.keyed(self.keymap.offers(
            "running", waits=False, variants=False, callable_cues=("home",), besides=self.rounds.keys("running")
        ))
        status = Status(
            phase="running", label="Practice 12, second field", error_ms=60, devices=DEVICES, keys=keys,
            origins=(origin,), shows=self.rounds.shows, sign=self.rounds.sign(),
            scribe=self.keymap.scribe(self.rounds.marks),
        )  # fmt: skip
        made = Composer(PAINTER.measure)
        made.load(self.piece.timeline, {}, {})
        now_ns = ORIGIN_NS + round(after_s * NS_PER_S)
        return made.look(status, None, FlashGuard(8), size, now_ns, 0, focused=True)

    def look(self, size, notice=""):
        """Return what stands on the window."""
        rounds = self.rounds
        keys = self.keymap.keyed(self.keymap.offers(
            self.phase, waits=False, variants=False, callable_cues=(), besides=rounds.keys(self.phase)
        ))
        status = Status(
            phase=self.phase, label="Practice 12, second field", error_ms=60, devices=DEVICES, keys=keys, notice=notice,
            battery="battery 81 %, power saver on", awake="kept awake", begins=self.piece.at,
            card=rounds.card(ORIGIN_NS), ask=rounds.ask(self.stage, self.phase), result=rounds.result(),
            start=self.found.files.rig.start, origins=(), shows=rounds.shows, sign=rounds.sign(),
            scribe=self.keymap.scribe(self.rounds.marks), video=rounds.video(), clear_until_ns=rounds.clear_until_ns,
        )  # fmt: skip
        made = Composer(PAINTER.measure)
        made.load(self.piece.timeline, {}, {})
        return made.look(status, None, FlashGuard(8), size, ORIGIN_NS, 0, focused=True)


def _mark(label, begin_s, end_s):
    begin_ns = ORIGIN_NS + round(begin_s * NS_PER_S)
    end_ns = None if end_s is None else ORIGIN_NS + round(end_s * NS_PER_S)
    return records.MarkRecord(at_ns=begin_ns, label=label, begin_ns=begin_ns, end_ns=end_ns)


def questions(evening):
    evening.act("no")


def card(evening):
    evening.ready()
    evening.end(117, 128)
    evening.next()
    evening.end(120.3, 135.8)
    evening.next()


def field(evening):
    evening.act(*["yes"] * len(evening.found.drill.questions))


def result(evening):
    evening.ready()
    for contact_s, home_s in ((117, 128), (128, 129), (116, 120), (118.5, 135.9)):
        evening.end(contact_s, home_s)
        evening.next()
    evening.end(118.9, 135.5)


def reason(evening):
    result(evening)
    evening.act("drop")


def untold(evening):
    evening.ready()
    for _ in range(min(evening.found.drill.half_speed, evening.found.drill.rounds - 1)):
        evening.end(117, 128)
        evening.next()
    evening.end(118.1, 136.1)              # both too close to their edges


STATES = {
    "questions": questions, "field": field, "card": card, "result": result, "reason": reason, "untold": untold,
}  # fmt: skip
every_state = pytest.mark.parametrize("state", STATES)
every_drill = pytest.mark.parametrize("drill", bundle.names("drills"))


# Capitals as shares of the window's height: what everybody at the field reads, and what those at the laptop read.
LEAST_FAR, LEAST_NEAR = 0.04, 0.016
LEAST_DIGITS = 0.12


@every_drill
@every_state
def test_rows_stand_apart_and_what_counts_is_the_largest(drill, state):
    evening = BetweenRounds(drill)
    STATES[state](evening)
    for size in SIZES:
        texts = evening.look(size, notice="say first that the field is clear").texts
        window = Box(0, 0, *size)
        boxes = [ink(text, PAINTER.measure) for text in texts]
        for number, box in enumerate(boxes):
            assert box.within(window) == box, texts[number]
            shared = [box.within(other) for other in boxes[:number]]
            assert not [part for part in shared if part.w > 0 and part.h > 0], texts[number]
        rows = {text.name: text for text in texts}
        capitals = {name: text.line_px * CAP / min(size[1], 1.15 * size[0]) for name, text in rows.items()}
        first = "result 0" if "result 0" in rows else "card 0"
        assert min(capitals["prompt"], capitals[first]) >= LEAST_FAR, (size, capitals)
        assert min(capitals.values()) >= LEAST_NEAR, (size, capitals)
        assert min(capitals["prompt"], capitals[first]) >= max(
            share for name, share in capitals.items() if name not in ("prompt", first)
        )


@every_drill
@pytest.mark.parametrize("after_s", [1.2, 16.2])
@pytest.mark.parametrize("size", [*SIZES, (1366, 768), (1920, 1080)])
def test_while_a_round_runs_something_large_stands_there_where_no_clock_does(drill, after_s, size):
    evening = BetweenRounds(drill)
    rows = {text.name: text for text in evening.running(size, after_s).texts}
    boxes = [ink(text, PAINTER.measure) for text in rows.values()]
    for number, box in enumerate(boxes):
        assert not [part for part in map(box.within, boxes[:number]) if part.w > 0 and part.h > 0]
    capitals = {name: text.line_px * CAP / min(size[1], 1.15 * size[0]) for name, text in rows.items()}
    if "clock" in evening.found.drill.shows:
        assert capitals["digits"] == max(capitals.values()) >= LEAST_DIGITS
        assert not [name for name in rows if name.startswith("sign")]
        return
    assert "digits" not in rows
    assert rows["sign 0"].text == "Round 1"
    assert capitals["sign 0"] == max(capitals.values()) >= LEAST_DIGITS
    assert rows["sign 1"].text == ("Wait for the cue" if drill == "words" else "Watch the robot")
    assert capitals["sign 1"] >= 2 * LEAST_FAR
    assert not [text.text for text in rows.values() if "HOME" in text.text or "NO TOUCH" in text.text]


@pytest.mark.parametrize("state", ["card", "result"])
def test_no_letter_of_the_series_is_missing_in_the_font(state):
    """pygame's own font draws the same empty box for each letter that it has not."""
    evening = BetweenRounds("break_off")
    STATES[state](evening)
    font = pygame.font.Font(None, 40)
    (missing,) = font.metrics("\N{BLACK CIRCLE}")
    series = [text for text in evening.look(SIZES[0]).texts if text.text.startswith("So")]
    assert series
    assert missing not in [font.metrics(letter)[0] for text in series for letter in text.text if not letter.isspace()]


def test_what_cannot_be_told_offers_a_video_in_letters_that_can_be_typed_from():
    evening = BetweenRounds("break_off")
    untold(evening)
    for size in SIZES:
        (row,) = (text for text in evening.look(size).texts if text.name == "video")
        assert row.text.startswith(f"By video: tocsin mark {FOLDER.name} --video marks.csv")
        assert row.line_px * CAP >= LEAST_NEAR * min(size[1], 1.15 * size[0])


@pytest.mark.parametrize("size", [*SIZES, (1366, 768), (1920, 1080)])
def test_the_evenings_sentence_stands_whole_among_the_result_in_words(size):
    evening = BetweenRounds("break_off")
    result(evening)
    said = "This evening: 12 rounds were played again: if because they failed, these figures look too good."
    texts = evening.look(size, notice=said).texts
    boxes = [ink(text, PAINTER.measure) for text in texts]
    for number, box in enumerate(boxes):
        assert box.within(Box(0, 0, *size)) == box, texts[number]
        assert not [part for part in map(box.within, boxes[:number]) if part.w > 0 and part.h > 0], texts[number]
    (row,) = (text for text in texts if text.name == "notice")
    assert row.text == said
    assert row.line_px * CAP >= LEAST_NEAR * min(size[1], 1.15 * size[0])
