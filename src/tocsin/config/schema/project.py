"""Define the file format ``tocsin-project/1``."""

# ruff: noqa: RUF012  (pydantic copies the defaults of each table)

import re
from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, Field, PlainValidator

from tocsin.config.schema.references import NameOrFile, folder_objection
from tocsin.config.schema.table import Table, needed
from tocsin.config.schema.values import Day, Language, Title, choice, one_or_list, text_of
from tocsin.config.toml.phrases import mistake, quoted, what_is
from tocsin.model.drill import CREWS
from tocsin.model.plan import ROLES, Role
from tocsin.model.project import DEFAULT_SECOND, MOST_SECOND, Asked, Event, Project, Question
from tocsin.translation import tr

MOST_LISTED = 24                        # of what is read at all; how many make sense is said by who reads it
MOST_PATTERN_FILES = 12
MOST_DATES = 60
_KEY = re.compile(r"[0-9a-f]{8}")


def _person(value: object) -> str:
    """Return a person's key; else raises the mistake, which says how names are given."""
    if isinstance(value, int) and not isinstance(value, bool) and _KEY.fullmatch(str(value)):
        raise mistake("person_key", text=str(value), readings=[f'"{value}"'])
    text = text_of(value, tr("a person's key in quotes"))
    if not _KEY.fullmatch(text):
        tidy = text.strip().lower()
        raise mistake("person_key", text=text, readings=[f'"{tidy}"'] if _KEY.fullmatch(tidy) else [])
    return text


def _folder(value: object) -> str:
    """Return the name of a folder inside the project's; else raises the mistake."""
    text = text_of(value, tr('a folder inside the project, such as "runs"'), longest=250)
    if why := folder_objection(text):
        raise mistake("runs_folder", text=text, why=why)
    return text


def _second(value: object) -> tuple[float, float]:
    """Return from and to, in points for a second; one number is both."""
    found = one_or_list(value)
    assert isinstance(found, list)
    if not found or any(isinstance(one, bool) or not isinstance(one, int | float) for one in found):
        odd = next((one for one in found if isinstance(one, bool) or not isinstance(one, int | float)), value)
        raise mistake("wrong_type", **{"is": what_is(odd)}, wanted=tr("two numbers, such as [0.5, 1.0]"), readings=[])
    if len(found) > 2 or not all(0 <= one <= MOST_SECOND for one in found):
        raise mistake("second", high=f"{MOST_SECOND:g}", readings=[])
    if found[0] > found[-1]:
        raise mistake("second", high=f"{MOST_SECOND:g}", readings=[f"[{found[-1]}, {found[0]}]"])
    return float(found[0]), float(found[-1])


def _list(value: object) -> object:
    """Return one name, or several, as a list; else raises the mistake of one text that holds several, or of one twice.
    """
    found = one_or_list(value)
    assert isinstance(found, list)
    texts = [one for one in found if isinstance(one, str)]
    if isinstance(value, str) and "," in value:
        parts = [part.strip() for part in value.split(",") if part.strip()]
        raise mistake("list_as_text", text=value, readings=["[" + ", ".join(map(quoted, parts)) + "]"])
    if twice := next((one for place, one in enumerate(texts) if one in texts[:place]), None):
        raise mistake("listed_twice", text=twice, readings=[])
    return found


PersonKey = Annotated[str, PlainValidator(_person)]
Files = Annotated[list[NameOrFile], BeforeValidator(_list)]


class EventTable(Table):
    """``[event]``."""

    heading: ClassVar[str] = "[event]"
    plan: NameOrFile = ""
    dates: Annotated[list[Day], BeforeValidator(one_or_list), Field(max_length=MOST_DATES)] = []

    def build(self) -> Event:
        """Return what holds at events, the days in their order."""
        return Event(plan=self.plan, dates=tuple(sorted(set(self.dates))))


class QuestionTable(Table):
    """``[question]``."""

    heading: ClassVar[str] = "[question]"
    asks: Annotated[Asked, choice("coach", "setup", "plan", "draw_out", "shift")] = needed('"coach"')
    since: Day = ""

    def build(self) -> Question:
        """Return the question."""
        return Question(asks=self.asks, since=self.since)


class CrewTable(Table):
    """One of ``[crew.A]``, ``[crew.B]``, ``[crew.C]``: a key a role."""

    heading: ClassVar[str] = "a crew"
    driver: PersonKey = ""
    operator: PersonKey = ""
    coach: PersonKey = ""
    scribe: PersonKey = ""
    feeder: PersonKey = ""

    def build(self) -> dict[Role, str]:
        """Return the people's keys by role."""
        return {role: key for role in ROLES if (key := getattr(self, role))}


class CrewsTable(Table):
    """``[crew]``: up to three."""

    heading: ClassVar[str] = "[crew]"
    A: CrewTable | None = None
    B: CrewTable | None = None
    C: CrewTable | None = None

    def build(self) -> dict[str, dict[Role, str]]:
        """Return the people's keys by role, by crew; crews of nobody are left out."""
        tables: dict[str, Any] = {crew: getattr(self, crew) for crew in CREWS}
        return {crew: found for crew, table in tables.items() if table and (found := table.build())}


class ProjectFile(Table):
    """A whole project file."""

    heading: ClassVar[str] = tr("this project")
    name: Title = needed('"Bell crew"')
    game: NameOrFile = ""
    plan: Annotated[Files, Field(max_length=MOST_LISTED)] = []
    rig: NameOrFile = ""
    drills: Annotated[Files, Field(max_length=MOST_LISTED)] = []
    patterns: Annotated[Files, Field(max_length=MOST_PATTERN_FILES)] = []
    runs: Annotated[str, PlainValidator(_folder)] = ""
    language: Language = ""
    second: Annotated[tuple[float, float], PlainValidator(_second)] = DEFAULT_SECOND
    event: EventTable = EventTable()
    question: QuestionTable | None = None
    crew: CrewsTable = CrewsTable()

    def build(self) -> Project:
        """Return the project."""
        return Project(
            name=self.name,
            game=self.game,
            plans=tuple(self.plan),
            rig=self.rig,
            drills=tuple(self.drills),
            patterns=tuple(self.patterns),
            runs=self.runs,
            language=self.language,
            second=self.second,
            event=self.event.build(),
            question=self.question.build() if self.question else None,
            crews=self.crew.build(),
        )
