"""What front ends say during a measurement: nothing of a match, and what a person has to do."""

import pytest

from tocsin.config.load import load
from tocsin.features.trial.guided import Guided
from tocsin.model.clock.origins import Origin
from tocsin.model.display.status import Status
from tocsin.model.display.view_model import ViewModelMaker
from tocsin.model.timeline.timeline import MATCH
from tocsin.runner.keymap import Keymap
from tocsin.runner.options import RunOptions
from tocsin.units import NS_PER_S

FILES = load(None, ["full"], "practice_bench")
TIMELINE = FILES.plans[0].timeline
ORIGIN = Origin(anchor=MATCH, origin_ns=100 * NS_PER_S)
DO = "Press on the last beat: s"


def view(phase, at_s, *, of_match=False):
    origins = () if phase == "standby" else (ORIGIN,)
    status = Status(phase=phase, origins=origins, of_match=of_match, ask="" if phase == "standby" else DO)
    return ViewModelMaker(TIMELINE).at(status, round((100 + at_s) * NS_PER_S))


# The bundled game: its match lasts 136 s, and its coasting 4 s more.
@pytest.mark.parametrize(
    ("phase", "at_s"), [("standby", 0), ("waiting", -0.3), ("running", 50), ("running", 135), ("over", 141)]
)
def test_a_measurement_tells_nothing_of_a_match(phase, at_s):
    told, match = view(phase, at_s), view(phase, at_s, of_match=True)
    assert "match" not in " ".join((told.title, *(ahead.line for ahead in told.ahead))).lower()
    assert told.ahead == ()
    assert match.digits                # of a match there is always something on the display
    if phase in ("standby", "over"):
        assert told.digits == ""


def test_while_it_runs_the_face_says_what_to_do():
    assert view("running", 50).prompt == DO
    assert view("running", 50, of_match=True).prompt == ""


def test_the_programme_says_what_to_do_also_where_it_begins_without_a_question():
    guided = Guided(FILES, RunOptions(), [], ["4 starts"], "yes", DO)
    assert not guided.of_match
    assert [guided.ask(None, phase) for phase in ("waiting", "running", "over")] == [DO, DO, "That was all"]


def test_no_key_is_said_to_mark():
    keymap = Keymap(FILES.rig)
    known = {"waits": False, "variants": False, "callable_cues": ()}
    assert any(line.does.startswith("mark ") for line in keymap.keyed(keymap.offers("running", **known)))
    without = keymap.keyed(keymap.offers("running", marks=False, **known))
    assert not any(line.does.startswith("mark ") for line in without)
