"""A page's record becomes runs, once, with what it was made from; whatever else a file may hold."""

import hashlib
import json

import pytest

from tests.support.export.page_records import ORIGIN_NS, OVER_S, Record, as_bytes, played, source_line
from tocsin.cli.commands.log import main
from tocsin.errors import MistakeError, UsageError
from tocsin.export.page import page_html
from tocsin.features.records.page.record import MOST_FLAWS, MOST_MATCHES, MOST_PAGE_BYTES, page_record_of
from tocsin.features.records.round_report import played_of
from tocsin.journal import records
from tocsin.journal.place import run_folders
from tocsin.journal.reader import read
from tocsin.journal.short_name import short_name
from tocsin.model.clock.sync import Sync
from tocsin.model.rig import Start
from tocsin.model.timeline.timeline import MATCH
from tocsin.readable import readable
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

OTHER_DAY = "2031-03-02T10:00:00.000Z"


@pytest.fixture
def log(tmp_path, capsys):
    """Let `tocsin log --page` read a file's bytes; return what it says."""

    def logged(data, *arguments):
        path = tmp_path / "record.jsonl"
        path.write_bytes(data)
        assert main(["--page", str(path), "--runs", str(tmp_path / "runs"), *arguments]) == 0
        said = capsys.readouterr()
        return said.out, said.err

    return logged


@pytest.fixture
def runs(tmp_path):
    """Return all runs, the oldest first."""
    return lambda: [read(folder) for folder in reversed(run_folders(tmp_path / "runs"))]


def of(run, kind):
    return [record for record in run.records if isinstance(record, kind)]


def test_a_match_is_a_run_with_its_marks_its_signals_and_its_clock(log, runs):
    out, err = log(played().firing("home", "rumble", None, "skipped", "absent").data(), "--label", "match 14")
    (run,) = runs()
    recorded, verdict, *_ = out.splitlines()
    assert recorded == f"recorded {short_name(run.path.parent)} in {run.path.parent.parent}"
    assert verdict == "  Not clean: you pushed 2.5 s into No-touch time."
    assert err == ""
    assert (run.header.label, run.header.wall) == ("match 14", "2031-03-01T10:05:00.000Z")
    assert (run.header.options["source"], run.header.options["rate"]) == ("page", 1.0)
    assert (run.end.outcome, run.end.at_ns) == ("over", ORIGIN_NS + OVER_S * S)
    assert [(m.label, m.begin_ns - ORIGIN_NS, m.source) for m in run.marks] == [
        ("contact", 115 * S, "page key Digit7"), ("turned", 116_200 * MS, "page key Digit7"),
        ("home", 129 * S, "page key Digit7"),
    ]  # fmt: skip
    assert run.marks[0].end_ns - run.marks[0].begin_ns == 5_500 * MS
    home, over, absent = of(run, records.FiringRecord)
    assert (home.cue, home.late_ns, home.outcome, over.cue) == ("home", 2 * MS, "played", "over")
    assert (absent.late_ns, absent.outcome, absent.why) == (None, "skipped", "absent")
    found = played_of(run.records, half_speed=False)
    assert found.home_call_ns == ORIGIN_NS + 114 * S + 2 * MS
    assert [(origin.anchor, origin.origin_ns) for origin in found.origins] == [(MATCH, ORIGIN_NS)]


@pytest.mark.parametrize("by", ["press", "count_in"])
def test_the_clock_is_as_sure_as_a_runs_that_was_started_so(log, runs, by):
    started = Sync.started(Start(by=by))
    at_first = started.error_ms
    log(Record().begin(by=by).origin("nudge", 20, 0.2).origin("nudge", 21, 0.4).end().data())
    (run,) = runs()
    started.overrule()
    assert [origin.error_ms for origin in of(run, records.OriginRecord)] == [
        at_first, started.error_ms, started.error_ms
    ]  # fmt: skip


def test_no_person_missed_the_start_of_a_page_that_began_by_itself(log, runs):
    log(Record().begin(by="itself").end().data())
    assert [origin.error_ms for origin in of(runs()[0], records.OriginRecord)] == [None]


def test_pages_of_before_do_not_say_how_they_were_started_or_that_they_slept(log, runs):
    record = Record().begin().slept(60).end()
    del record.lines[0]["by"]
    record.lines[2] |= {"what": record.lines[2].pop("why")}
    log(record.data())
    (run,) = runs()
    assert of(run, records.OriginRecord)[0].error_ms == Sync.started(Start(by="press")).error_ms
    (fault,) = of(run, records.Fault)
    assert (fault.what, fault.why) == ("slept", "the wall clock moved by 20.0 s")


def test_holds_are_taken_out_of_the_times(log, runs):
    log(Record().begin().mark("contact", 50, 51).hold(60, 70).mark("home", 139).end(OVER_S + 10).data())
    (run,) = runs()
    found = played_of(run.records, half_speed=False)
    contact, home = found.marks
    # By the newest origin, 10 s later: what lay before the hold does so too.
    assert [origin.origin_ns for origin in found.origins] == [ORIGIN_NS + 10 * S]
    assert (contact.begin_ns, home.begin_ns) == (ORIGIN_NS + 60 * S, ORIGIN_NS + 139 * S)
    assert (found.held, found.disturbed) == (True, False)


def test_a_variant_that_was_chosen_before_or_in_the_match(log, runs):
    record = Record("doors").begin()
    record.lines[0]["variant"] = "north_first"
    log(record.choose(20, "south_first").choose(21, "nobody").end().data())
    assert [state.variant for state in of(runs()[0], records.State)] == ["north_first", "south_first", None]


def test_home_tapped_again_at_once_is_half_home_as_in_a_run(log, runs):
    log(Record().begin().mark("home", 120).mark("home", 130).mark("home", 131).mark("home", 131.8).end().data())
    assert [(mark.label, (mark.begin_ns - ORIGIN_NS) / S) for mark in runs()[0].marks] == [
        ("home", 120), ("home_none", 131.8)
    ]  # fmt: skip


def test_several_matches_a_cancelled_one_and_one_whose_page_was_closed(log, runs):
    record = played().begin("2031-03-01T10:15:00.000Z").mark("contact", 50, 51).end(60, "scrapped")
    record.begin("2031-03-01T10:25:00.000Z").mark("contact", 50, 51)
    out, _ = log(record.data(), "--who", "driver=Ann")
    found = runs()
    assert [run.end.outcome for run in found] == ["over", "scrapped", "crashed"]
    assert [line.split(":")[0] for line in out.splitlines() if line[0] != " "] == ["match 1", "match 2", "match 3"]
    assert out.count("no result: the page was closed before the end of this match") == 1
    assert len({tuple(run.header.options["people"]) for run in found}) == 1
    assert "Ann" not in found[0].path.read_text("utf-8")


def test_the_same_record_twice_is_said_and_not_doubled(log, runs):
    record = played()
    log(record.data())
    out, _ = log(record.data() + as_bytes(record.lines))          # and a second time within one file
    assert out.count("taken in before, not again") == 2
    longer = record.mark("contact", OVER_S + 1).data()
    out, _ = log(longer)
    assert "from another save of the page" in out
    assert "move that folder away" in out
    assert len(runs()) == 1
    assert len(runs()[0].marks) == 3
    out, _ = log(played(origin_ns=ORIGIN_NS + S).data())          # of another device, in the same millisecond
    assert "recorded" in out
    assert len(runs()) == 2


def test_a_plan_that_is_no_longer_todays_comes_with_the_record(log, runs, tmp_path):
    plan = tmp_path / "own.toml"
    plan.write_text((Record().source.files[1].text).replace("4s", "5s"), "utf-8")
    record = played(Record(str(plan)))
    plan.write_text("nothing of before", "utf-8")
    out, err = log(record.data())
    assert err == ""
    assert "own.toml" in [file.name for file in runs()[0].header.files]
    assert "recorded" in out
    home = next(one for one in runs()[0].header.timeline.firings if one.cue == "home" and one.match_ns is not None)
    assert home.begin.offset_ns == 113 * S


def test_another_plan_that_is_given_is_said(log, runs):
    _, err = log(played().data(), "--plan", "quiet")
    assert "made with the plan 'Full' (sha256 " in err
    assert "the given one is another (plans/quiet.toml, sha256 " in err
    assert "the one it was made with is used" in err
    assert runs()[0].header.timeline.plan == "Full"


def test_pages_of_before_carry_no_files_which_are_found_by_their_checksums(log, runs, tmp_path):
    plan = tmp_path / "own.toml"
    plan.write_text(Record().source.files[1].text + "\n", "utf-8")
    record = played(Record(str(plan)))
    with pytest.raises(UsageError) as error:
        log(as_bytes(record.lines))
    assert "its files are not in the record" in str(error.value)
    assert f"--plan FILE (sha256 {record.source.plan_sha256[:12]})" in error.value.hint
    with pytest.raises(UsageError, match=r"the given one is another \(plans/quiet.toml"):
        log(as_bytes(record.lines), "--plan", "quiet")
    assert runs() == []
    log(as_bytes(record.lines), "--plan", str(plan))
    plan.unlink()
    record.begin(OTHER_DAY).end()
    out, _ = log(as_bytes(record.lines))                          # found in the run that was just written
    assert out.count("taken in before") == 1
    assert len(runs()) == 2
    log(as_bytes(played().lines))                                 # the usual plan is tried too
    assert len(runs()) == 3


def test_a_file_whose_text_was_changed_is_none_of_the_pages(log):
    record = Record("quiet").begin().end()
    source = source_line(record.source)
    source["files"][1]["text"] += "# changed\n"
    with pytest.raises(UsageError, match="its files are not in the record"):
        log(as_bytes([source, *record.lines]))


def carried(text, name="first.toml"):
    """Return a record of a stranger, who wrote its plan and all its checksums."""
    record = played()
    source = source_line(record.source)
    digest = hashlib.sha256(text.encode()).hexdigest()
    source["files"][1] |= {"text": text, "sha256": digest, "name": name}
    record.lines[0] |= {"plan_sha256": digest, "plan": name}
    return as_bytes([source, *record.lines])


def test_a_strangers_plan_is_checked_as_any_file(log, runs):
    with pytest.raises(MistakeError) as error:
        log(carried(Record().source.files[1].text.replace('"4s"', '"soon"'), "\x1b[31mfirst.toml"))
    assert str(error.value).startswith("in the record: ")
    assert "soon" in str(error.value)
    assert "\x1b" not in readable(str(error.value))
    assert runs() == []


def test_names_that_would_steer_a_terminal_are_shown_and_do_not(log):
    record = played()
    record.lines[0] |= {"plan": "\x1b[31mred", "game": "\u202ebad", "plan_sha256": "0" * 64}
    with pytest.raises(UsageError) as error:
        log(as_bytes(record.lines))
    assert r"the plan '\x1b[31mred' (sha256 000000000000) in '\u202ebad'" in str(error.value)


def test_lines_that_are_none_are_left_out_and_said(log, runs):
    good = played().data().splitlines(keepends=True)
    deep = b'{"kind":"mark","at_ns":' + b"[" * 5000 + b"\n"
    names = b'{"kind":"mark","at_ns":1,"label":"\\u001b[31mred","begin_ns":1}\n'
    later = b'{"kind":"of a later version","at_ns":1}\n'
    lines = [b"\xef\xbb\xbf" + good[0], good[1], b"junk \x00\xff\n", deep, names, later, *good[2:], good[-1][:30]]
    _, err = log(b"".join(line.replace(b"\n", b"\r\n") for line in lines))
    (run,) = runs()
    assert len(run.marks) == 3
    assert run.end.outcome == "over"
    assert [line.split(", ", 1)[1].split(":")[0] for line in err.splitlines() if line.startswith("note")] == [
        "line 3 is not a record", "line 4 is not a record", "line 5 is not a record", "line 14 is torn",
    ]  # fmt: skip
    assert "\x1b" not in err


def test_times_that_lie_elsewhere_than_the_match_are_left_out(log, runs):
    far = 3 * 24 * 3600
    record = Record().begin().mark("contact", far, far + 1).mark("contact", 60, 59).mark("contact", 50, 51)
    record.origin("nudge", 70, -far).end(far).end()
    _, err = log(record.data())
    (run,) = runs()
    assert [mark.begin_ns for mark in run.marks] == [ORIGIN_NS + 50 * S]
    assert [origin.origin_ns for origin in of(run, records.OriginRecord)] == [ORIGIN_NS]
    assert run.end.at_ns == ORIGIN_NS + OVER_S * S
    assert err.count("more than a day from the begin of its match") == 3
    assert err.count("its end is before its begin") == 1


def test_what_belongs_to_no_part_of_the_plan_is_left_out(log, runs):
    record = played()
    record.firing("home").lines[-1]["cue"] = "\x1b[31mnobody"
    record.origin("call", 60, 60, anchor="call.nobody")
    out, _ = log(record.data())
    assert "left out: a signal '\\x1b[31mnobody' is not of this plan" in out
    assert "left out: nothing in this plan begins at 'call.nobody'" in out
    assert len(of(runs()[0], records.FiringRecord)) == 2


@pytest.mark.parametrize("how", ["broken", "gone"])
def test_a_match_whose_begin_is_lost_does_not_run_into_the_one_before(log, runs, how):
    record = played()
    before = len(record.lines)
    played(record.begin(OTHER_DAY, origin_ns=ORIGIN_NS + 900 * S).mark("contact", 50, 51))
    lines = as_bytes(record.lines).splitlines(keepends=True)
    lines[before : before + 1] = [b'{"kind":"header","at_ns":1}\n'] if how == "broken" else []
    _, err = log(as_bytes([source_line(record.source)]) + b"".join(lines))
    assert [len(run.marks) for run in runs()] == [3]
    assert len(of(runs()[0], records.OriginRecord)) == 1
    assert err.count("note:") == 1


def bad(**changes):
    record = played()
    record.lines[0] |= changes
    return record.data()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "no match of an exported page is in this file"),
        (b"\x00" * 1000, "no match of an exported page"),
        (page_html(Record().source).encode(), "this is a page itself, not what it saved"),
        (as_bytes([{"kind": "mark", "at_ns": 1, "label": "contact", "begin_ns": 1}]), "line 1 is before any match"),
        (bad(format="tocsin-page/2"), "line 2: its format is 'tocsin-page/2', and this version reads tocsin-page/1"),
        (bad(format="tocsin-journal/1"), "its format is 'tocsin-journal/1'"),
        (bad(wall="2031-02-31T10:00:00.000Z"), "is no time of day"),
        (bad(wall="../../../2031"), "is no time of day"),
        (b"junk\n" * (MOST_FLAWS + 1), f"more than {MOST_FLAWS} of its lines are not records"),
        (as_bytes(played().lines[:1] * (MOST_MATCHES + 1)), f"more than {MOST_MATCHES} matches"),
        (as_bytes([*played().lines, *played().mark("home", 1).lines[-1:] * 6000]), "no match has so many lines"),
    ],
)  # fmt: skip
def test_a_file_that_is_no_record_is_refused(data, said):
    with pytest.raises(MistakeError) as error:
        page_record_of(data)
    assert said in str(error.value)


def test_a_file_larger_than_any_record_is_not_even_read(log):
    with pytest.raises(UsageError, match="at most 20,000 kb are read"):
        log(b"\n" * (MOST_PAGE_BYTES + 1))


def test_a_run_of_the_record_is_read_back_as_any_other(log, runs):
    """Each line of a journal that was made of it is a record, and its header says which match it was."""
    record = played()
    log(record.data())
    (run,) = runs()
    assert run.troubles() == ()
    facts = run.header.options["page"]
    assert (facts["wall"], facts["at_ns"]) == (record.lines[0]["wall"], record.lines[0]["at_ns"])
    assert json.loads(run.path.read_text("utf-8").splitlines()[0])["boot"] == "page"
