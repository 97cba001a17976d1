"""Words made while people wait: what the sound gets and when, what people are told, what is not tried again."""

import ast
import sys
from dataclasses import dataclass, field
from pathlib import Path
from queue import Queue
from types import SimpleNamespace

import pytest

from tests.support.speech.voices import HANGS, LISTING, SPEAKS, calls, engine
from tocsin.config.load import load
from tocsin.journal import records
from tocsin.model.plan import Cue, Plan
from tocsin.model.rig import Sound
from tocsin.model.samples import FRAME_BYTES
from tocsin.runner.words import PATIENCE_NS, WordMaker
from tocsin.speech.cache import Spoken, WordCache
from tocsin.speech.engine import Engine
from tocsin.speech.word_file import frames_in
from tocsin.units import NS_PER_S as S

pytestmark = [
    pytest.mark.devices, pytest.mark.skipif(sys.platform == "win32", reason="a script is no program on Windows")
]  # fmt: skip
HELD_BACK = """
go = pathlib.Path(__file__).with_name("go")
while not go.exists(): time.sleep(0.01)
"""


@dataclass
class Desk:
    """What the words ask of a stage: its match, its notices, and that the workers get the piece anew."""

    phase: str = "standby"
    armed: bool = False
    loaded: int = 0
    notices: list[str] = field(default_factory=list)
    notes: list[records.Record] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.match = self.new_match()

    def new_match(self) -> SimpleNamespace:
        record = SimpleNamespace(add=self.notes.append)
        return SimpleNamespace(lifecycle=SimpleNamespace(phase=self.phase), armed=self.armed, record=record)

    def now(self, phase: str, *, armed: bool) -> None:
        """Go on to another phase of the same match."""
        self.match.lifecycle.phase, self.match.armed = phase, armed

    def resend(self) -> None:
        self.loaded += 1

    def notice(self, text: str, now_ns: int, *, replace_key: str) -> None:
        assert replace_key == "words"
        self.notices.append(text)


def _plan(words: tuple[str, ...], language: str) -> Plan:
    cues = [Cue(id=f"cue_{n}", at=(), patterns={"sound": "low"}, say=say) for n, say in enumerate(words)]
    return Plan(name="P", game="g", cues=tuple(cues), language=language)


class Stand:
    """The words of a run with an engine, a shelf and a desk of its own."""

    def __init__(self, folder: Path, spoken: Engine | None) -> None:
        self.rung: Queue[None] = Queue()
        self.desk = Desk()
        self.shelf = WordCache(folder / "words")
        self.speech = WordMaker(lambda: self.rung.put(None), spoken, self.shelf)

    def want(
        self, *words: str, language: str = "en", sound: Sound | None = None, later: tuple[str, ...] = ()
    ) -> None:
        following = (_plan(later, language),) if later else ()
        self.speech.want(_plan(words, language), sound or Sound(), following)

    def turn(self, now_ns: int = 0) -> None:
        self.speech.turn(self.desk, now_ns)  # type: ignore[arg-type]

    def made(self) -> None:
        """Wait until all has been made that was asked for, and hear of it."""
        self.rung.get(timeout=30)
        self.turn()

    @property
    def files(self) -> dict[str, str]:
        return self.speech.words("sound").files

    @property
    def note(self) -> str:
        return self.speech.words("sound").note


def test_words_that_were_made_reach_the_sound_in_standby(tmp_path: Path) -> None:
    stand = Stand(tmp_path, engine(tmp_path, SPEAKS))
    stand.want("Home", "Over", "Home")
    assert (stand.files, stand.note, stand.desk.loaded) == ({}, "", 0)
    stand.made()
    assert (stand.desk.loaded, stand.note) == (1, "")
    assert stand.files.keys() == {"cue_0", "cue_1", "cue_2"}
    assert stand.files["cue_0"] == stand.files["cue_2"]
    assert all(frames_in(Path(file)) for file in stand.files.values())
    stand.turn()
    assert stand.desk.loaded == 1
    assert stand.speech.words("screen").files == {}


@pytest.mark.parametrize(
    ("speech", "note"),
    [(None, "words: for the coach to say"), (False, ""), (True, "")],
)
def test_standby_says_why_a_plan_with_a_coach_is_not_spoken(tmp_path: Path, speech: bool | None, note: str) -> None:
    """The bundled plan has cues for the coach; where the rig has no loudspeaker, that is said already."""
    plan = load(None, ["full"], "nothing").plans[0].plan
    stand = Stand(tmp_path, engine(tmp_path, SPEAKS))
    stand.speech.want(plan, Sound(speech=speech))
    assert stand.note == note
    stand.speech.want(plan, None)
    assert stand.note == ""
    stand.speech.want(plan, Sound(speech=speech))
    stand.speech.want(Plan(name="P", game="g", cues=()), Sound())
    assert stand.note == ""


def test_words_that_are_kept_are_there_at_once(tmp_path: Path) -> None:
    first = Stand(tmp_path, engine(tmp_path, SPEAKS))
    first.want("Home")
    first.made()
    second = Stand(tmp_path, engine(tmp_path, SPEAKS))
    before = calls(tmp_path / "espeak-ng")
    second.want("Home")
    second.turn()
    assert second.files == first.files
    assert (second.desk.loaded, calls(tmp_path / "espeak-ng")) == (0, before)


def test_a_damaged_word_is_made_again(tmp_path: Path) -> None:
    first = Stand(tmp_path, engine(tmp_path, SPEAKS))
    first.want("Home")
    first.made()
    Path(first.files["cue_0"]).write_bytes(b"RIFF")
    second = Stand(tmp_path, engine(tmp_path, SPEAKS))
    second.want("Home")
    assert second.files == {}
    second.made()
    assert frames_in(Path(second.files["cue_0"]))


def test_words_that_come_while_a_match_runs_wait_for_the_next_standby(tmp_path: Path) -> None:
    stand = Stand(tmp_path, engine(tmp_path, HELD_BACK + SPEAKS))
    stand.want("Home")
    stand.desk.now("waiting", armed=True)
    stand.turn(5)
    (tmp_path / "go").touch()
    stand.made()
    stand.turn(6)
    assert stand.desk.loaded == 0
    [note] = stand.desk.notes
    assert isinstance(note, records.Note)
    assert (note.at_ns, note.what) == (5, "words")
    assert "not ready at the start" in note.text
    stand.desk.now("over", armed=True)
    stand.turn(7)
    assert stand.desk.loaded == 0
    stand.desk.match = stand.desk.new_match()
    stand.turn(8)
    assert (stand.desk.loaded, len(stand.desk.notes)) == (1, 1)


def test_what_takes_long_is_told_in_standby(tmp_path: Path) -> None:
    stand = Stand(tmp_path, engine(tmp_path, HELD_BACK + SPEAKS))
    stand.want("Home", "Over")
    for program in iter(lambda: calls(tmp_path / "espeak-ng"), 2):     # until the first word is asked for
        assert program < 2
    stand.turn(0)
    stand.turn(PATIENCE_NS)
    assert stand.desk.notices == []
    stand.turn(PATIENCE_NS + 1)
    stand.turn(PATIENCE_NS + S)
    assert [text.split(":")[0] for text in stand.desk.notices] == ["words are being made, 0 of 2"]
    (tmp_path / "go").touch()
    stand.made()
    assert stand.files.keys() == {"cue_0", "cue_1"}


def test_without_a_program_it_says_how_to_get_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    stand = Stand(tmp_path, None)
    stand.want("Home")
    stand.turn()
    assert stand.files == {}
    assert stand.note.startswith("no voice, words are only shown: ")
    assert (stand.desk.loaded, stand.desk.notices) == (0, [])
    stand.want()
    assert stand.note == ""


def test_a_plan_that_speaks_nothing_asks_for_nothing(tmp_path: Path) -> None:
    stand = Stand(tmp_path, engine(tmp_path, SPEAKS))
    for sound in (None, Sound(speech=False)):
        stand.speech.want(Plan(name="P", game="g", cues=()), sound)
        stand.speech.want(None, sound)
    stand.want("Home", sound=Sound(speech=False))
    stand.turn()
    assert (stand.files, stand.note, calls(tmp_path / "espeak-ng")) == ({}, "", 0)


def test_more_words_than_are_spoken_are_told_beside_the_loudspeaker(tmp_path: Path) -> None:
    spoken = engine(tmp_path, SPEAKS)
    stand = Stand(tmp_path, spoken)
    words = [f"word {n}" for n in range(103)]
    for word in words[:100]:
        stand.shelf.put(Spoken(spoken.name, "", "en", word), bytes(FRAME_BYTES))
    stand.want(*words)
    assert (len(stand.files), stand.note) == (100, "3 words are only shown: more than 100")


@pytest.mark.parametrize(
    ("language", "sound", "told"),
    [("en", Sound(voice="Anna"), "there is no voice 'Anna' here; there are English (Great Britain)"),
     ("xx", Sound(), "no voice here speaks 'xx', only en-gb")],
)  # fmt: skip
def test_a_voice_or_language_that_is_not_there_is_told_with_those_that_are(
    tmp_path: Path, language: str, sound: Sound, told: str
) -> None:
    stand = Stand(tmp_path, engine(tmp_path, SPEAKS, listing=LISTING))
    stand.want("Home", language=language, sound=sound)
    stand.made()
    assert stand.note.startswith(f"words are only shown: {told}")
    assert stand.desk.loaded == 1                                      # the sound tells it on
    # Neither the same plan nor the next match asks again.
    before = calls(tmp_path / "espeak-ng")
    stand.want("Home", language=language, sound=sound)
    stand.want()
    stand.want("Home", language=language, sound=sound)
    assert stand.note.startswith(f"words are only shown: {told}")
    assert calls(tmp_path / "espeak-ng") == before
    # Another rig or plan does.
    stand.want("Home")
    stand.made()
    assert (stand.note, list(stand.files)) == ("", ["cue_0"])


@pytest.mark.parametrize("text", ["-w/tmp/x", "--path=/", "$(touch x)", '" -f /etc/passwd', "Anna\n--stdout"])
def test_no_text_of_a_file_becomes_an_argument(tmp_path: Path, text: str) -> None:
    """Words go to standard input, and a voice is one that the program lists."""
    stand = Stand(tmp_path, engine(tmp_path, SPEAKS, listing=LISTING))
    stand.want(text)
    stand.made()
    stand.want("Home", sound=Sound(voice=text))
    stand.made()
    stand.want("Home", language=text)
    stand.made()
    called = [ast.literal_eval(line) for line in (tmp_path / "espeak-ng.calls").read_text("utf-8").splitlines()]
    assert len(called) >= 3
    assert not [argument for arguments in called for argument in arguments if text in argument]


def test_words_of_plans_that_come_later_are_made_behind_those_of_now_and_disturb_nobody(tmp_path: Path) -> None:
    stand = Stand(tmp_path, engine(tmp_path, SPEAKS))
    stand.want("Home", later=("Home", "Over"))
    stand.made()
    assert (stand.files.keys(), stand.desk.loaded) == ({"cue_0"}, 1)
    stand.desk.now("waiting", armed=True)
    stand.made()
    assert (stand.files.keys(), stand.desk.loaded, stand.desk.notes) == ({"cue_0"}, 1, [])
    stand.desk.now("standby", armed=False)
    stand.turn()
    assert stand.desk.loaded == 1, "nothing new for the plan of now"
    before = calls(tmp_path / "espeak-ng")
    stand.want("Home", "Over", later=("Home",))
    assert (stand.files.keys(), calls(tmp_path / "espeak-ng")) == ({"cue_0", "cue_1"}, before)


def test_no_words_for_later_are_begun_in_a_match(tmp_path: Path) -> None:
    stand = Stand(tmp_path, engine(tmp_path, SPEAKS))
    stand.want("Home", later=("Over",))
    stand.desk.now("waiting", armed=True)
    stand.made()
    before = calls(tmp_path / "espeak-ng")
    stand.turn()
    assert calls(tmp_path / "espeak-ng") == before
    assert stand.rung.empty()


def test_a_plan_that_changes_meanwhile_gets_its_own_words(tmp_path: Path) -> None:
    stand = Stand(tmp_path, engine(tmp_path, HELD_BACK + SPEAKS))
    stand.want("Home")
    stand.want("Over", "Pads")
    (tmp_path / "go").touch()
    stand.made()
    assert stand.files == {}
    stand.made()
    assert stand.files.keys() == {"cue_0", "cue_1"}


def test_one_word_that_cannot_be_said_is_named_and_the_others_are_spoken(tmp_path: Path) -> None:
    stand = Stand(tmp_path, engine(tmp_path, f"if said == b'???': sys.exit('no')\n{SPEAKS}"))
    stand.want("???", "Home")
    stand.made()
    assert stand.files.keys() == {"cue_1"}
    assert "'???'" in stand.note


def test_closing_ends_a_program_that_hangs(tmp_path: Path) -> None:
    stand = Stand(tmp_path, engine(tmp_path, HANGS))
    stand.want("Home")
    stand.speech.close()
    stand.rung.get(timeout=20)
