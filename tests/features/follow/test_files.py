"""What a keeper's header brings is data of others: read within bounds, and no more of it than is played."""

import msgspec
import pytest

from tests.support.journal.recorded_runs import FILES
from tocsin.config.files import file_text
from tocsin.config.load import load
from tocsin.errors import JournalError, MistakeError
from tocsin.features.follow.files import played_of, rate_of
from tocsin.features.follow.keeper import Keeper
from tocsin.journal import records
from tocsin.readable import utf8_json
from tocsin.runner.match.count_in import with_count_in
from tocsin.service.bodies import RunSoFar
from tocsin.units import NS_PER_S as S

LOADED = load(None, ["full"], "nothing")
TIMELINE = with_count_in(LOADED.plans[0].timeline, 5 * S)
OWN = 'format = "tocsin-rig/1"\nname = "Mine"\ndrives_robot = false\n[sound]\n'
RIG = file_text("rig", "mine.toml", OWN)


def header(**changes):
    files = tuple(records.FileRecord.of(file.name, file.text) for file in LOADED.files)
    found = records.Header(
        at_ns=1, wall="2031-03-01T10:00:00.000Z", boot="b", timeline=TIMELINE, files=files, label="Ann's run",
        options={"people": {"driver": "k3y"}, "label": "Ann's run", "runs": "/home/ann/runs", "rate": 2.0},
    )  # fmt: skip
    return msgspec.structs.replace(found, **changes)


def test_the_plan_is_played_on_the_own_rig():
    found = played_of(header(), RIG)
    assert found.files.rig.name == "Mine"
    assert found.timeline == TIMELINE
    assert found.plan.plan.name == LOADED.plans[0].plan.name
    assert OWN in [file.text for file in found.files.files]
    assert len([file for file in found.files.files if file.kind == "rig"]) == 1


def test_a_drills_round_is_played_by_its_timeline_and_its_drill_stays_away():
    found = played_of(header(files=FILES), RIG)
    assert {file.kind for file in found.files.files} >= {"game", "plan", "rig"}
    assert not [file for file in found.files.files if "tocsin-drill" in file.text]


def test_folders_of_the_other_laptop_stay_away():
    files = tuple(
        records.FileRecord.of(prefix + one.name.rsplit("/", 1)[-1], one.text)
        for prefix, one in zip(["/home/ann/plans/", "C:\\Users\\Ann\\", "../"] * 5, header().files, strict=False)
    )
    found = played_of(header(files=files), RIG)
    for file in found.files.files:
        assert not {"/", "\\"} & set(file.name)
        assert "nn" not in file.name


def test_what_does_not_fit_is_told():
    with pytest.raises(JournalError, match="no timeline"):
        played_of(header(timeline=None), RIG)
    changed = msgspec.structs.replace(header().files[0], text="x = 1")
    with pytest.raises(JournalError, match="damaged"):
        played_of(header(files=(changed, *header().files[1:])), RIG)
    strange = msgspec.structs.replace(TIMELINE.firings[0], pattern="nobody_has_this")
    odd = msgspec.structs.replace(TIMELINE, firings=(strange, *TIMELINE.firings[1:]))
    with pytest.raises(JournalError, match="do not fit together"):
        played_of(header(timeline=odd), RIG)
    with pytest.raises(MistakeError):
        played_of(header(files=(records.FileRecord.of("game.toml", 'format = "tocsin-game/1"'),)), RIG)


@pytest.mark.parametrize(("said", "rate"), [(2.0, 2.0), (1e9, 1.0), ("x", 1.0), (None, 1.0)])
def test_only_a_rate_that_can_be_is_taken(said, rate):
    assert rate_of({"rate": said}) == rate


def test_a_run_that_is_none_is_refused_in_words():
    keeper = Keeper("10.0.0.5:8737")
    odd = (msgspec.Raw(b'{"kind":"header"}'), msgspec.Raw(utf8_json({"kind": "nothing"})))
    keeper.take([RunSoFar(run=1, now_ns=1, version="0", timeline=TIMELINE, records=odd)], 5 * S)
    assert keeper.run is None
    assert "not a journal" in keeper.refusal.why
