"""Make the season of an invented team that comes with Tocsin.

    python -m tests.support.analysis.season_example

writes `configs/example/season.json`. What is true of this team stands in ``TEAM``.
"""

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import msgspec

from tests.support.analysis.season_teams import season_rows
from tests.support.analysis.season_worlds import Crew, Driver, Matches, Slow, World
from tocsin.analysis.seasons.row import Row
from tocsin.config import bundle
from tocsin.features.records.example_season import FORMAT, Column, SeasonFile
from tocsin.model.project import Event, Project, Question

SEED = 4
INVENTED = (
    "Invented: nobody drove these rounds. A simulator made this season of a team that does not exist, in the invented "
    "game Casting Day, to show what a review and advice say."
)
# Two crews of two, who change seats each second evening. They become quicker with rounds, more so while their coach
# calls; one push on the last evening takes far too long. Their lead was made longer after the first evenings.
TEAM = World(
    crews=(
        Crew(Driver("ash", 1.95, 0.18), "fir"), Crew(Driver("elm", 2.05, 0.18), "oak"),
        Crew(Driver("fir", 1.9, 0.18), "ash"), Crew(Driver("oak", 2.1, 0.18), "elm"),
    ),
    at_once=2, days=(0, 2, 4), evenings=20, plan="full", lead_s=3.0, lead_changes=((6, 4.0),),
    drills=tuple("turn" if evening == 1 else "fork" if evening == 10 else "break_off" for evening in range(20)),
    matches=(Matches(9, 4), Matches(15, 5)), match_s=0.3, correlation=0.05, calling_s=0.17, pushes=0.6,
    ways_s=(15.5, 12.5, 10.0, 16.5), doubling=0.07, uneven=True, slow=(Slow(19, 9, 3.2),), never_ended=0.03, again=0.02,
)  # fmt: skip


def example_file() -> SeasonFile:
    """Return the file that comes with Tocsin, as the simulator makes it."""
    rows = season_rows(TEAM, SEED)
    columns = {name: [getattr(row, name) for row in rows] for name in Row.__struct_fields__}
    plain = _defaults()
    last = date.fromisoformat(rows[-1].evening)
    people = {
        letter: {"driver": crew.driver.key, "operator": crew.operator}
        for letter, crew in zip("AB", TEAM.crews, strict=False)
    }
    project = Project(
        name="Kettle Lane (invented)", game="casting_day", plans=("full",), drills=("break_off", "turn", "fork"),
        second=(0.75, 1.0), event=Event(dates=((last + timedelta(days=21)).isoformat(),)),
        question=Question(asks="coach", since=rows[0].evening), crews=people,
    )  # fmt: skip
    return SeasonFile(
        format=FORMAT, invented=INVENTED, today=(last + timedelta(days=1)).isoformat(), project=project, rows=len(rows),
        columns={
            name: column_of(values) for name, values in columns.items() if any(one != plain.get(name) for one in values)
        },
    )  # fmt: skip


def column_of(values: list[Any]) -> Column:
    """Return a field of all rows: each different value once."""
    different: dict[str, Any] = {_json(value): value for value in values}
    places = {text: place for place, text in enumerate(different)}
    return Column(values=tuple(different.values()), places=tuple(places[_json(value)] for value in values))


def text_of(file: SeasonFile) -> str:
    """Return a file's text: a line a column, so that people can look at it and changes can be told apart."""
    head = (name for name in SeasonFile.__struct_fields__ if name != "columns")
    lines = [f' "{name}": {_json(getattr(file, name))},' for name in head]
    columns = ",\n".join(f'  "{name}": {_json(values)}' for name, values in file.columns.items())
    return "\n".join(["{", *lines, ' "columns": {', columns, " }", "}", ""])


def path() -> Path:
    """Return where the file lies."""
    return bundle.root() / "example" / "season.json"


def _defaults() -> dict[str, Any]:
    fields = msgspec.structs.fields(Row)
    return {
        field.name: field.default_factory() if field.default is msgspec.NODEFAULT else field.default
        for field in fields if not field.required
    }  # fmt: skip


def _json(value: object) -> str:
    return msgspec.json.encode(value).decode()


def main() -> None:
    """Write the file."""
    path().parent.mkdir(exist_ok=True)
    path().write_text(text_of(example_file()), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
