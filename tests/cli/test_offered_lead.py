"""A lead that is offered after a drill: only where advice would be given, and written only on a typed yes."""

import io
from datetime import date, timedelta
from pathlib import Path

import pytest

from tests.support.journal.recorded_evenings import record_evening
from tocsin.cli.offered_lead import offer_lead
from tocsin.cli.project import Meant
from tocsin.config import bundle
from tocsin.config.drills import plan_named_by
from tocsin.config.load import load
from tocsin.errors import UsageError
from tocsin.features.advice.answer import PlanLine
from tocsin.features.advice.write_lead import write_lead
from tocsin.model.mark import VIDEO
from tocsin.units import NS_PER_S

RUNS = Path("runs")


@pytest.fixture(autouse=True)
def plan(tmp_path, monkeypatch):
    """Stand in a folder with a plan of one's own, as an editor of Windows may have saved it, and with 36 matches in
    which pushes lasted longer than its lead."""
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "ours.toml"
    text = (bundle.root() / "plans" / "full.toml").read_text("utf-8")
    path.write_bytes(text.replace('break_off = "4s"', '  break_off = "4s"   # ours').replace("\n", "\r\n").encode())
    for evening in range(3):
        times = [4.4 + 0.03 * n for n in range(12)]
        record_evening(RUNS, date.today() - timedelta(days=2 + evening), times, plan="ours.toml", match=True,
                       source=VIDEO)  # fmt: skip
    return path


def offered(monkeypatch, answer, plan="ours.toml"):
    said = []
    monkeypatch.setattr("sys.stdin", io.StringIO(answer))
    offer_lead(plan, None, "nothing", Meant(None), RUNS, said.append)
    return said


def test_on_a_yes_the_one_line_is_written_and_all_else_stays(plan, monkeypatch, capsys):
    before = plan.read_bytes()
    said = offered(monkeypatch, "yes\n")
    assert said[0].startswith("One change: call 1 s earlier. Lead break_off: 4 s now, then 5 s.")
    assert said[2:] == ['    break_off = "5s"', "wrote ours.toml; as it was: ours.toml.before"]
    assert "Write it into ours.toml? [no]" in capsys.readouterr().out
    assert plan.read_bytes() == before.replace(b'  break_off = "4s"   # ours', b'  break_off = "5s"')
    assert plan.with_name("ours.toml.before").read_bytes() == before
    assert load(None, ["ours.toml"], "nothing").plans[0].plan.leads["break_off"] == 5 * NS_PER_S
    # It was changed just now: nothing is offered before two evenings have shown what that did.
    assert offered(monkeypatch, "") == []


@pytest.mark.parametrize("answer", ["no\n", "\n", "maybe\nn\n", ""])
def test_without_a_yes_nothing_is_written(plan, monkeypatch, answer):
    before = plan.read_bytes()
    assert offered(monkeypatch, answer)[-1] == "ours.toml stays as it is."
    assert plan.read_bytes() == before
    assert not plan.with_name("ours.toml.before").exists()


def test_where_advise_would_change_nothing_nobody_is_asked(plan, monkeypatch, capsys):
    plan.write_bytes(plan.read_bytes().replace(b'"4s"', b'"5s"'))
    assert offered(monkeypatch, "yes\n") == []
    assert offered(monkeypatch, "yes\n", "full") == [], "nobody changes a bundled plan"
    assert capsys.readouterr().out == ""


def test_a_plan_that_was_changed_meanwhile_stays_as_it_is(plan):
    before = plan.read_bytes()
    number = 1 + before.split(b"\r\n").index(b'  break_off = "4s"   # ours')
    for off, lasts_s in ((1, 5), (0, 6)):
        line = PlanLine(file="ours.toml", line=number + off, text='break_off = "5s"')
        with pytest.raises(UsageError, match="not as it was read"):
            write_lead(plan, line, "break_off", lasts_s * NS_PER_S)
    assert plan.read_bytes() == before


def test_the_plan_that_a_drill_names():
    assert plan_named_by("break_off") == bundle.root() / "plans" / "full.toml"
