"""Whatever name is forgotten, also one that is a word of the journals' own form: each journal reads on and comes to the
same results, and no word of people holds the name."""

import shutil
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import get_args

import msgspec
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tocsin.channels.screen import steering as screen_steering
from tocsin.config.drills import load_drill, load_drill_texts
from tocsin.config.load import load_texts
from tocsin.features.reactions.files import KEY, BlockFacts
from tocsin.features.records.round_files import RoundFacts
from tocsin.features.records.rows import RowMaker
from tocsin.journal import records
from tocsin.journal.fields import FIELDS, OPTIONS, READ_BACK, WORDS, visited
from tocsin.journal.forget import rewrite, traces
from tocsin.journal.name import Name
from tocsin.journal.past import past_of
from tocsin.journal.place import run_folders
from tocsin.journal.reader import read
from tocsin.journal.summary import summarise
from tocsin.journal.writer import JournalWriter
from tocsin.runner.options import ROUND, RunOptions, options_of
from tocsin.units import NS_PER_S as S

DRILL = load_drill("break_off", "practice_bench")
TIMELINE = DRILL.files.plans[0].timeline
ORIGIN_NS = 5000 * S
PEOPLE = "Ann Other says 2026 is light for coach Mark in match A"


def written(runs: Path, number: int, label: str) -> None:
    """Write a round of a drill as a conductor would, with a record of each kind and people's words in all of them."""
    facts = RoundFacts(
        name=DRILL.drill.name, key="k", seed=1, round=number, crew="A", battery=number, half_speed=False
    )
    options = RunOptions(plans=(f"/home/ann/{PEOPLE}.toml",), runs=runs, label=label, people={"driver": "0a1b2c3d"})
    header = records.Header(
        at_ns=ORIGIN_NS, wall=f"2026-03-0{number}T10:00:00.000Z", boot="b", label=label, timeline=TIMELINE,
        options={**msgspec.to_builtins(options, enc_hook=str), "plan_no": 0, ROUND: msgspec.to_builtins(facts)},
        files=tuple(
            records.FileRecord.of(file.name, f"# {PEOPLE}\n{file.text}") for file in DRILL.files.files
        ),
        workers=(records.Worker(channel="light", pid=1, started_s=1.0),),
    )  # fmt: skip
    writer = JournalWriter.create(runs, header)
    home = next(one for one in TIMELINE.firings if one.cue == "home" and one.channel == "light")
    call_ns = ORIGIN_NS + home.begin.offset_ns
    run = [
        records.OriginRecord(at_ns=ORIGIN_NS, anchor="match", origin_ns=ORIGIN_NS, cause="start", error_ms=60),
        records.State(at_ns=ORIGIN_NS, states=("running",), event="start", variant=""),
        records.Device(at_ns=ORIGIN_NS, channel="light", state="ready", name=f"{PEOPLE}'s strip"),
        records.Fault(at_ns=ORIGIN_NS, channel="light", what=records.RESTARTED, why=PEOPLE),
        records.FiringRecord(
            at_ns=call_ns, cue="home", n=0, channel="light", anchor="match", due_ns=home.begin.offset_ns,
            match_ns=home.match_ns, late_ns=0, took_ns=0, outcome="played", no=home.no,
        ),
        records.MarkRecord(
            at_ns=call_ns, label="contact", begin_ns=call_ns - 4 * S, end_ns=call_ns + 2 * S, source="key c"
        ),
        records.MarkRecord(at_ns=call_ns, label="home", begin_ns=call_ns + 5 * S, by="us"),
        records.Note(at_ns=call_ns, what="safety", text=PEOPLE),
        records.Note(at_ns=call_ns, what=screen_steering.NOTE, text="mean=0.2 alone=0.5 lasts_s=12"),
    ]  # fmt: skip
    for record in run:
        writer.append(record)
    devices, priorities = dict.fromkeys(("light",), "ready"), {}
    summary = summarise(
        (header, *run), outcome="over", exit_base=0, journal=str(writer.folder), disturbed=False, devices=devices,
        priorities=priorities,
    )
    writer.append(records.End(at_ns=call_ns + 60 * S, outcome="over", exit=0, summary=summary))
    assert not writer.close()
    with (writer.folder / "torn-1.txt").open("wb") as file:
        file.write(f'{{"kind":"note","text":"{PEOPLE}'.encode())


@pytest.fixture(scope="module")
def evening(tmp_path_factory):
    runs = tmp_path_factory.mktemp("evening") / "runs"
    written(runs, 1, PEOPLE)
    return runs, [comes_to(one) for one in run_folders(runs)]


def comes_to(folder: Path) -> object:
    """Return all that a run comes to, but for words."""
    journal = read(folder)
    assert journal.troubles() == ()
    assert all(file.intact() for file in journal.header.files)
    row, report, past = RowMaker().row(journal), RowMaker().report(journal), past_of(journal)
    load_texts(file for file in journal.header.files if "tocsin-drill/" not in file.text)    # as --resume does
    drill = load_drill_texts(journal.header.files).drill
    again = options_of(journal.header.options)
    assert report is not None
    return (
        msgspec.structs.replace(row, folder="", label="", game="", plan="", drill=""), report.result.clean,
        report.result.counted, past.origins, past.fired, past.states, past.workers, again.people, drill.marks,
        drill.clean, [(type(record), record.at_ns) for record in journal.records],
        [msgspec.structs.replace(one, word="") for one in journal.header.timeline.firings],
        [(device.channel, device.state) for device in journal.records if isinstance(device, records.Device)],
        [fault.what for fault in journal.records if isinstance(fault, records.Fault)],
    )  # fmt: skip


def words_of(runs: Path) -> list[str]:
    """Return every word of people in a folder of runs."""
    found = []
    for folder in run_folders(runs):
        found.append(folder.name.partition("Z")[2])
        for file in folder.iterdir():
            def look(holds, text):
                found.extend([text] if holds in WORDS else [])
                return text

            for line in file.read_text("utf-8").split("\n"):
                visited(line, look)
    return found


def spellings() -> list[str]:
    """Return every word of the journals' own form: kinds, keys, and what their fields may be."""
    kinds = [kind.__struct_config__.tag for kind in get_args(records.Record)]
    fields = [field for kind in FIELDS for field in kind.__struct_fields__]
    choices = [
        one for choice in (records.Cause, records.FiringOutcome, records.RunOutcome, records.DeviceState)
        for one in get_args(choice)
    ]
    said = [
        records.RESTARTED, records.RESUMED, records.STDERR, records.WORKER, records.PRIORITY, records.ABSENT,
        records.LATE, records.CROSSED, records.GIVEN, records.OUTRANKED, records.FORMAT,
    ]
    words = ["light", "rumble", "screen", "sound", "driver", "coach", "match", "true", "null", "running", "contact"]
    return sorted({*kinds, *fields, *choices, *said, *words, *(one.cue for one in TIMELINE.firings)})


names = st.one_of(
    st.sampled_from(spellings()),
    st.sampled_from(PEOPLE.split()),
    st.from_regex(r"[0-9]{1,4}", fullmatch=True),
    st.text(st.characters(categories=["L"]), min_size=1, max_size=1),
    st.text(st.sampled_from(r"()[]{}.*+?^$|\/\"'#=:,-_ a"), min_size=1, max_size=3).filter(str.strip),
)


@settings(max_examples=settings.default.max_examples // 4)
@given(name=names)
@example(name="Coach")
@example(name="Light")
@example(name="2026")
@example(name="Mark")
@example(name="Match")
@example(name="a")
@example(name="removed")
@example(name='"')
@example(name="\\")
@example(name="Ann Other")
def test_after_any_name_each_journal_reads_on_and_comes_to_the_same(evening, name):
    with TemporaryDirectory() as folder:
        runs = Path(folder) / "runs"
        written_runs, before = evening
        shutil.copytree(written_runs, runs)
        rewrite(runs, Name(name))
        assert [comes_to(one) for one in run_folders(runs)] == before
        assert [text for text in words_of(runs) if Name(name).stands_in(text)] == []
        assert [trace for trace in traces(runs, Name(name)).traces if not trace.part] == []
        assert rewrite(runs, Name(name)) == 0, "a second time there is nothing left to do"


def test_every_field_of_a_journal_is_known_for_what_it_holds():
    """Who adds a field says in ``tocsin.journal.fields`` whether people write into it."""
    seen = set()

    def look(kind):
        if isinstance(kind, type) and issubclass(kind, msgspec.Struct) and kind not in seen:
            seen.add(kind)
            assert set(FIELDS.get(kind, ())) == set(kind.__struct_encode_fields__), kind
            for field in msgspec.structs.fields(kind):
                look_inside(field.type)

    def look_inside(hint):
        look(hint)
        for inner in get_args(hint):
            look_inside(inner)

    for kind in get_args(records.Record):
        look(kind)
    assert set(FIELDS) == seen


@pytest.mark.parametrize(
    ("kind", "known"), [(RunOptions, OPTIONS), (RoundFacts, OPTIONS[ROUND]), (BlockFacts, OPTIONS[KEY])]
)
def test_every_option_in_a_header_is_known_for_what_it_holds(kind, known):
    assert set(kind.__struct_fields__) <= set(known)


def test_the_note_that_is_read_back_is_known():
    assert screen_steering.NOTE in READ_BACK
