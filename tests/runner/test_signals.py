"""Signals that end a run are taken, and given back."""

import signal
import sys
from collections.abc import Iterator

import pytest

from tocsin.runner.ending import Ending, heard, signals_given_back, take_signals


@pytest.fixture(autouse=True)
def interrupts() -> Iterator[None]:
    """Let Ctrl-C end the tests behind each of these."""
    before = signal.getsignal(signal.SIGINT)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.parametrize(
    ("number", "code"),
    [
        (signal.SIGINT, 130),
        pytest.param(
            signal.SIGTERM, 143, marks=pytest.mark.skipif(sys.platform == "win32", reason="Windows ends it at once")
        ),
    ],
)
def test_they_are_taken_and_the_end_that_one_brings_is_not_disturbed(number: signal.Signals, code: int) -> None:
    told, ended = signal.getsignal(signal.SIGTERM), list[Ending]()
    with signals_given_back():
        take_signals(ended.append)
        signal.raise_signal(number)
        assert [ending.exit for ending in ended] == [code]         # 128 and the number: common practice of shells
    assert signal.getsignal(signal.SIGTERM) is told
    signal.raise_signal(signal.SIGINT)             # does nothing: else it were KeyboardInterrupt


def test_they_are_given_back() -> None:
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}
    with signals_given_back():
        take_signals(print)
        assert signal.getsignal(signal.SIGINT) is not before[signal.SIGINT]
    assert {number: signal.getsignal(number) for number in before} == before


def test_what_came_too_late_for_a_run_is_still_known_behind_it() -> None:
    with signals_given_back():
        assert heard() is None
        take_signals(lambda ending: None)              # a run that is over already and does nothing about it
        signal.raise_signal(signal.SIGINT)
        take_signals(lambda ending: None)
        found = heard()
        assert found is not None
        assert found.exit == 130
    with signals_given_back():
        assert heard() is None


def fail() -> None:
    with signals_given_back():
        take_signals(print)
        raise ZeroDivisionError


def test_they_are_given_back_also_behind_an_error() -> None:
    before = signal.getsignal(signal.SIGINT)
    with pytest.raises(ZeroDivisionError):
        fail()
    assert signal.getsignal(signal.SIGINT) is before
