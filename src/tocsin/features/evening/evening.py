"""Lead through a rehearsal evening: who is there, devices, drills with breaks, result. It starts what exists already.

Where it stands is written at each step, so that it is taken up there, whatever ended it. Nothing begins by a timer.
"""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import msgspec

from tocsin import files, monotime
from tocsin.config.load import load_rig
from tocsin.errors import OVER, MistakeError, TocsinError, UsageError
from tocsin.features.devices.tryout.people import EndedError, LeftError
from tocsin.features.evening.devices import CONFIRMED, DeviceWalk, look, told_of
from tocsin.features.evening.drills import OptionsOf, again, look_up, plan_lines, planned, play, played_text
from tocsin.features.evening.picture import picture
from tocsin.features.evening.result import EveningResult, lines_of, result_of
from tocsin.features.evening.seats import ask_who, seats_of
from tocsin.features.evening.talk import ReadLine, Say, Talk
from tocsin.features.review.closing import closing_of
from tocsin.journal.answers import Answers
from tocsin.journal.people import People
from tocsin.journal.tonight import DrillState, PlannedDrill, Tonight, keep_tonight, tonight_in
from tocsin.runner.boards.standing import StandingBoards
from tocsin.runner.options import Roster
from tocsin.runner.run import alone
from tocsin.translation import tr, trn

_GO_ON = tr("`tocsin evening` goes on from here; with --new it begins another one.")
_OVER = tr(
    "The evening is over and kept (`tocsin runs`). `tocsin evening` takes it up again, `tocsin evening --new` begins "
    "another.",
)
_REST = tr("Rest as long as you like: drink, change the battery, let motors cool. Nothing begins by itself.")


class EveningRequest(msgspec.Struct, frozen=True, kw_only=True):
    """The request of the command line: the project's name, the rig, the folder of runs, the drills in their order, the
    project's crews; ``others`` are drills beside these that may be chosen, ``options_of`` the options that a drill is
    started with, ``new`` begins another evening; with ``json_output`` nothing but the result goes to stdout."""

    project: str
    rig: str
    runs: Path
    drills: tuple[str, ...]
    others: tuple[str, ...]
    crews: Mapping[str, Mapping[str, str]]
    options_of: OptionsOf
    new: bool = False
    json_output: bool = False


class EveningEnd(msgspec.Struct, frozen=True, kw_only=True):
    """How it ended: the exit code, and the result if that was asked for."""

    exit: int
    result: EveningResult | None = None


def lead_evening(wish: EveningRequest, say: Say, read_line: ReadLine) -> EveningEnd:
    """Lead through the evening until its result, or until somebody leaves; return how it ended.

    Raises the errors of what it starts; the evening is taken up again at that step.
    """
    now = monotime.wall_text()
    found = None if wish.new else tonight_in(wish.runs, now)
    tonight = found or Tonight(began=now, project=wish.project, seats=seats_of(wish.crews))
    evening = _Evening(wish, tonight, Talk(say, read_line))
    if found is not None:
        evening.say_taken_up()
    try:
        with evening.boards:
            return evening.go()
    except LeftError:
        say(tr("Quit. {go_on}", go_on=_GO_ON))
        return EveningEnd(exit=OVER)
    except EndedError as error:
        say(tr("Ended. {go_on}", go_on=_GO_ON))
        return EveningEnd(exit=error.ending.exit)


class _Evening:
    """One evening; each step returns the next."""

    def __init__(self, wish: EveningRequest, tonight: Tonight, talk: Talk) -> None:
        self._wish = wish
        self._tonight = tonight
        self._talk = talk
        self._say = talk.say
        self._exit = OVER
        self.boards = StandingBoards()

    def say_taken_up(self) -> None:
        """Say in a line where the evening stands."""
        tonight = self._tonight
        names = People(self._wish.runs).names
        there = ", ".join(names.get(seat.person, "?") for seat in tonight.seats if seat.here) or tr("nobody named")
        for drill in tonight.drills:
            if drill.state == "on":
                self._look_up(drill)                   # whatever ended it, the journals know
        done = sum(drill.state == "done" for drill in tonight.drills)
        begun = "".join(tr(", {title} begun", title=drill.title) for drill in tonight.drills if drill.state == "on")
        self._say(tr(
            "The evening goes on: {there}; {done} of {count} drills done{begun}.", there=there, done=done,
            count=len(tonight.drills), begun=begun,
        ))

    def go(self) -> EveningEnd:
        """Go from step to step until the result."""
        steps: dict[str, Callable[[], None]] = {
            "people": self._people, "devices": self._devices, "choose": self._choose, "drill": self._drill,
            "rest": self._rest,
        }  # fmt: skip
        if self._tonight.step == "over":
            self._tonight.step = "choose"              # the result was shown, and somebody goes on
        self._keep()
        while self._tonight.step != "result":
            steps[self._tonight.step]()
            self._keep()
        return EveningEnd(exit=self._exit, result=self._result())

    def _keep(self) -> None:
        keep_tonight(self._wish.runs, self._tonight, monotime.wall_text())

    def _people(self) -> None:
        if ask_who(self._tonight, People(self._wish.runs), self._talk):
            self._tonight.step = "choose" if self._tonight.drills else "devices"

    def _devices(self) -> None:
        """Try what was not tried yet. Raises DeviceError while another Tocsin runs."""
        tonight, rig = self._tonight, load_rig(self._wish.rig)

        def kept(name: str, what: str) -> None:
            tonight.devices[name] = what
            self._keep()

        with alone(), self._talk.dialogue() as people:
            inventory = look(rig)
            for line in told_of(rig, inventory):
                self._say(line)
            DeviceWalk(rig, inventory, Answers(self._wish.runs, tonight.people), people, kept).go(tonight.devices)
        tonight.step = "choose"

    def _choose(self) -> None:
        tonight = self._tonight
        if not tonight.drills:
            self._plan()
            if not tonight.drills:
                return
            self._keep()
        for line in plan_lines(tonight):
            self._say(line)
        due = tonight.drills[tonight.place] if tonight.place < len(tonight.drills) else None
        before = tonight.drills[tonight.place - 1] if tonight.place else None
        offers = {}
        if due:
            begin = (
                tr("go on with {title}, next round", title=due.title) if due.state == "on"
                else tr("begin {title}", title=due.title)
            )
            offers = {"b": begin, "s": tr("skip it tonight")}
        if before:
            offers["r"] = (
                tr("{title} after all", title=before.title) if before.state == "skipped"
                else tr("{title} once more, from round 1", title=before.title)
            )
        offers |= {"a": tr("another one"), "w": tr("who is there"), "e": tr("the result of the evening")}
        told = ", ".join(f"{key}: {what}" for key, what in offers.items())
        first = tr("What now?") if due else tr("All drills are behind you.")
        answer = self._talk.key(f"{first} {told}", tuple(offers))
        match answer:
            case "b":
                tonight.step = "drill"
            case "s" if due:
                due.state = "skipped"
                tonight.place += 1
            case "r" if before and before.state == "skipped":
                before.state = "on" if any(before.played.values()) else "to come"
                tonight.place -= 1
                self._say(tr("{title} is no longer skipped: it is next, and b plays it.", title=before.title))
            case "r" if before:
                tonight.drills.insert(tonight.place, again(before))
                self._say(tr("{title} again from round 1, in a new order: it begins.", title=before.title))
                tonight.step = "drill"
            case "a":
                self._another()
            case "w":
                tonight.step = "people"
            case "e":
                tonight.step = "result"

    def _plan(self) -> None:
        """Plan the project's drills, or those that are chosen now."""
        names = self._wish.drills
        if not names:
            self._say(tr("No drills are written down. Drills here:"))
            names = self._chosen(tr("Which ones, in their order? Numbers or names (e.g. 1 3; empty: 1): ")) or (
                self._wish.others[0],
            )
        self._tonight.drills = [one for name in names for one in self._planned(name)]

    def _another(self) -> None:
        chosen = self._chosen(tr("Which one? Its number, name or file (empty: none): "))
        new = [one for name in chosen for one in self._planned(name)]
        self._tonight.drills[self._tonight.place : self._tonight.place] = new

    def _planned(self, name: str) -> Sequence[PlannedDrill]:
        """Return a drill as planned; if it cannot be loaded, say why and return none."""
        try:
            return [planned(name, self._wish.options_of)]
        except TocsinError as error:
            self._say_error(error)
            return []

    def _say_error(self, error: TocsinError) -> None:
        self._say(f"{error}{f' ({error.hint})' if error.hint else ''}")

    def _chosen(self, question: str) -> tuple[str, ...]:
        """Return the drills that somebody types, by number, name or file."""
        others = self._wish.others
        for number, name in enumerate(others, 1):
            self._say(f"  {number}  {name}")
        words = self._talk.line(question).replace(",", " ").split()
        return tuple(
            others[int(word) - 1] if word.isdecimal() and 0 < int(word) <= len(others) else word for word in words
        )

    def _drill(self) -> None:
        tonight = self._tonight
        drill = tonight.drills[tonight.place]
        drill.state = "on"
        self._keep()
        before = dict(drill.played)
        try:
            options = self._wish.options_of(drill.name, self._roster())
            exit_code = play(
                drill, options, self._wish.runs, self._say, json_output=self._wish.json_output, boards=self.boards,
            )
        except (MistakeError, UsageError) as error:    # its file was changed since it was planned
            self._say_error(error)
            self._look_up(drill)
            tonight.step = "choose"
            return
        self._exit = max(self._exit, exit_code)
        state = self._look_up(drill)
        if state == "done":
            tonight.place += 1
        elif state == "on":
            self._say(tr(
                "{title} is paused: {played}. Later b goes on with its next round.", title=drill.title,
                played=played_text(drill),
            ))
        else:
            self._say(tr("No round of {title} was played: it counts as not begun.", title=drill.title))
        rests = (state == "done" or drill.played != before) and tonight.place < len(tonight.drills)
        tonight.step = "rest" if rests else "choose"

    def _look_up(self, drill: PlannedDrill) -> DrillState:
        return look_up(drill, self._wish.runs, self._tonight.roster)

    def _roster(self) -> Roster:
        return {crew: dict(roles) for crew, roles in self._tonight.roster.items()}

    def _rest(self) -> None:
        answer = self._talk.key(tr("{rest} g: go on, e: enough for tonight", rest=_REST), ("g", "e"))
        self._tonight.step = "choose" if answer == "g" else "result"

    def _result(self) -> EveningResult:
        """Tell the result, draw it, and leave the evening as over."""
        tonight, runs = self._tonight, self._wish.runs
        result = result_of(tonight, runs, self._say, CONFIRMED)
        names = People(runs).names
        for line in lines_of(result, names):
            self._say(line)
        closing = closing_of(runs, of_newest_drill=False)
        if closing:
            result = msgspec.structs.replace(result, sentence=closing.sentence, page=closing.page)
            for line in closing.lines[: 1 if closing.page else None]:
                self._say(line)
        path = runs / f"evening_{result.day}.png"
        try:
            files.write_whole(path, picture(result, names), private=True)
        except OSError as error:
            self._say(tr("The picture cannot be written: {error}", error=error))
        else:
            result = msgspec.structs.replace(result, picture=str(path))
        if drawn := [one for one in (result.picture, result.page) if one]:
            self._say(trn("Picture: {pictures}", "Pictures: {pictures}", len(drawn), pictures=", ".join(drawn)))
        self._say(_OVER)
        self.boards.ended = tr("The evening is over. Tocsin has ended on the laptop")
        tonight.step = "over"
        self._keep()
        return result
