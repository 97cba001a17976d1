"""The bar of a round in characters."""

from tocsin.model.display.round_picture import Dot, Instant, RoundPicture, Span, bar_text

PUSHED = RoundPicture(
    shape="filled", word="in time", edge="No touch", windows=(Span(begin_s=0, end_s=20),),
    pushes=(Span(begin_s=-4, end_s=-1),), instants=(Instant(what="call", at_s=-3), Instant(what="home", at_s=5)),
    series=(Dot(at_s=-1, shape="filled"),),
)  # fmt: skip


def test_each_second_has_its_place():
    # From a second before the first thing to a second behind the last: -5 s to 6 s, here two characters a second.
    assert bar_text(PUSHED, 23) == ("..==C====.|:::::::::H::", "| No touch  = push  C call  H home")


def test_what_has_no_end_points_on_and_what_is_far_is_left_out():
    open_end = RoundPicture(
        shape="question", word="too close", edge="No touch", pushes=(Span(begin_s=-2, end_s=None),),
        instants=(Instant(what="call", at_s=-4), Instant(what="end", at_s=20)),
    )  # fmt: skip
    bar, legend = bar_text(open_end, 11)
    assert (bar[-1], len(bar)) == (">", 11)
    assert "end" not in legend


def test_a_push_that_costs_is_on_the_bar_however_late_it_was():
    """Else the verdict says "touched", and nothing shows where."""
    again = RoundPicture(
        shape="cross", word="touched", edge="No touch", windows=(Span(begin_s=0, end_s=23),),
        pushes=(Span(begin_s=-6, end_s=-3), Span(begin_s=17, end_s=18), Span(begin_s=40, end_s=41)),
    )  # fmt: skip
    assert again.span_s() == (-7, 19)
    bar, _ = bar_text(again, 27)
    assert bar == ".====..|::::::::::::::::==:", "and what is far and costs nothing is left out"
    open_end = RoundPicture(
        shape="cross", word="touched", edge="No touch", windows=(Span(begin_s=0, end_s=23),),
        pushes=(Span(begin_s=20, end_s=None),),
    )  # fmt: skip
    assert open_end.span_s() == (-1, 21)


def test_without_an_edge_there_is_no_bar():
    assert bar_text(RoundPicture(shape="cross", word="not yet"), 40) == ()
