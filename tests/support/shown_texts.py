"""Print what window and terminal show in every state of a match and of a drill, for the test of the list of texts.

    python -m tests.support.shown_texts DIR
"""

import sys
from pathlib import Path

import msgspec

from tests.support.channels.codes import FIRST, GIVEN, MISSING, SECOND
from tests.support.export.exported_plans import bundled
from tests.support.runner.stage_stand import Desk, plain_stage, stage_for
from tocsin.channels.screen.code import code_rows
from tocsin.channels.screen.field import Box
from tocsin.channels.screen.layout import TextRow
from tocsin.channels.screen.round_result import bar_placed, verdict_placed
from tocsin.channels.screen.rows import beneath_rows, cue_rows, foot_rows, scribe_row, view_rows
from tocsin.config.drills import load_drill
from tocsin.export.json_document import document
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.round_files import Session
from tocsin.model.display.boards import BoardsFact
from tocsin.model.display.round_picture import CALL_EDGE, END_EDGE, Dot, Instant, RoundPicture, Span
from tocsin.model.display.status import GIVE_RIGHTS, DeviceFact, KeyHelp
from tocsin.model.display.view_model import ViewModel, ViewModelMaker
from tocsin.runner.options import RunOptions
from tocsin.runner.status import status_of
from tocsin.runner.terminal.screen import news, picture

PLANS = ("full", "doors")
_OF_DRILL = RunOptions(plans=("full",), rig="nothing", rate=100.0, start="key")
_DEVICES = tuple(
    DeviceFact(what=what, state=state) for what in ("driver", "operator", "coach", "light", "sound")
    for state in ("ready", "absent", "lost", "failed", "off")
)  # fmt: skip
_HAPPENED = tuple(Instant(what=what, at_s=n) for n, what in enumerate(("call", "turn", "home", "half home", "end")))


def main(folder: Path) -> None:
    """Print all texts, a line each."""
    desk = _match(folder / "match")
    _drill(folder / "drill")
    for edge in (CALL_EDGE, END_EDGE):
        lasts = (Span(begin_s=-1, end_s=2), Span(begin_s=3, end_s=None))
        series = (Dot(at_s=1, shape="filled"), Dot(at_s=None, shape="question"))
        drawn = RoundPicture(
            shape="cross", word="", edge=edge, instants=_HAPPENED, pushes=lasts, limit_s=2, series=series,
        )
        _show(msgspec.structs.replace(_view(desk), picture=drawn), False)


def written_words() -> set[str]:
    """Return the words that stand in the files of what is shown, in small letters: nobody translates these."""
    found = load_drill("turn", "nothing")
    texts: list[str] = []
    todo: list[object] = [msgspec.to_builtins(one) for one in (found.drill, *map(document, map(bundled, PLANS)))]
    while todo:
        one = todo.pop()
        if isinstance(one, str):
            texts.append(one)
        elif isinstance(one, dict | list | tuple):
            todo += one.values() if isinstance(one, dict) else one
    return {word.strip(".,;:?'").lower() for text in texts for word in text.split()}


def _match(folder: Path) -> Desk:
    folder.mkdir(parents=True)
    desk = Desk(*plain_stage(folder, *PLANS))
    _show(_view(desk))
    _show(msgspec.structs.replace(_view(desk), devices=_DEVICES))
    _show(ViewModelMaker(desk.stage.match.timeline).at(
        msgspec.structs.replace(desk.status, devices=_DEVICES, error_ms=60, rate=2.0, early_ms=500, typed="1:2_"),
        desk.now_ns,
    ))  # fmt: skip
    for boards in (FIRST, MISSING, SECOND, msgspec.structs.replace(SECOND, gives="mark")):
        _show(_boards(desk, boards))
    _show(_boards(desk, BoardsFact(address=FIRST.address, watching=1, programs=1, given=6 * GIVEN)))
    desk.press("s")
    _show(_view(desk))
    for after_s in (7, 20, 12, 60, 25):
        desk.after(after_s)
        desk.press("k")
        _show(_view(desk))
    desk.press("7", "p")
    _show(_view(desk))
    desk.press("x")
    _show(_view(desk))
    desk.press("p")
    desk.end_match(reads=False)
    _show(_view(desk))
    desk.press("s")
    _show(_view(desk))
    return desk


def _drill(folder: Path) -> None:
    folder.mkdir(parents=True)
    found = load_drill("turn", "nothing")
    programme = Rounds(found, _OF_DRILL, Session(name="turn", key="k", seed=7))
    desk = Desk(programme, stage_for(programme, _OF_DRILL, folder))
    for key in ("", *"y" * len(found.drill.questions), "s", "f", "s"):
        desk.press(*key)
        _show(_view(desk))
    desk.after(6)
    _show(_view(desk))
    desk.end_match(reads=False)
    _show(_view(desk))
    for key in ("s", "d", "e", "1"):
        desk.press(key)
        _show(_view(desk))


def _boards(desk: Desk, boards: BoardsFact) -> ViewModel:
    keys = (*desk.status.keys, KeyHelp(key="u", does="", action=GIVE_RIGHTS))
    status = msgspec.structs.replace(desk.status, boards=boards, keys=keys)
    return ViewModelMaker(desk.stage.match.timeline).at(status, 0)


def _view(desk: Desk) -> ViewModel:
    status = status_of(desk.stage, desk.programme, desk.result, desk.now_ns)
    return ViewModelMaker(desk.stage.match.timeline).at(status, desk.now_ns)


def _show(view: ViewModel, with_verdict: bool = True) -> None:
    rows: list[TextRow] = []
    for focused in (True, False):
        rows += view_rows(view, focused=focused)
        rows += [row for part in foot_rows(view, focused=focused) for row in part]
        rows += beneath_rows(view, keys=True, focused=focused)
    rows += [row for row in (scribe_row(view, 0.1),) if row] + cue_rows(view, "", (255, 255, 255))
    if view.boards is not None:
        rows += code_rows(view.boards)
    said = [row.text for row in rows]
    said += news(None, view)
    for brief in range(4):
        said += [line.plain for line in picture(view, "", brief)]
    if view.picture is not None:
        box = Box(0, 0, 1900, 600)
        placed = [bar_placed(view.picture, box, 1000, _wide)]
        placed += [verdict_placed(view.picture, box, 1000, _wide)] if with_verdict else []
        said += [text.text for part in placed for text in part.texts]
    print("\n".join(said))


def _wide(text: str) -> float:
    return 0.1 * len(text)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
