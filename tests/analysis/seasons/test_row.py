"""How often what a drill deals was dealt, played, counted and clean."""

from tocsin.analysis.seasons.row import Dealt, Row, dealt_in


def row(number: int, coach: str, *, clean: bool | None = True, counted: bool = True, crew: str = "A") -> Row:
    return Row(
        folder=f"{number}", wall="", game="", plan="", source="", outcome="over", drill="D", round=number, crew=crew,
        coach=coach, clean=clean, counted=counted,
    )  # fmt: skip


def test_a_repeated_round_is_dealt_once_and_played_twice_and_what_never_came_is_told() -> None:
    rows = [
        row(1, "silent", counted=False), row(1, "silent", clean=False), row(2, "silent", clean=None),
        row(1, "silent", crew="B"), row(3, "calling"),
    ]  # fmt: skip
    found = dealt_in(rows, {"coach": ("silent", "calling", "singing")})
    assert found == (
        Dealt(factor="coach", value="silent", dealt=3, played=4, counted=3, clean=1, not_clean=1),
        Dealt(factor="coach", value="calling", dealt=1, played=1, counted=1, clean=1, not_clean=0),
        Dealt(factor="coach", value="singing", dealt=0, played=0, counted=0, clean=0, not_clean=0),
    )


def test_a_shift_of_nothing_is_a_value_and_a_factor_that_does_not_vary_is_none() -> None:
    base = row(1, "")
    assert base.dealt == {}
    moved = Row(**{**{name: getattr(base, name) for name in base.__struct_fields__}, "shift_s": 0.0})
    assert moved.dealt == {"shift_s": 0.0}
