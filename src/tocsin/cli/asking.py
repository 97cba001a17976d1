"""Ask for what the command line left out: at a terminal, of a pipe, or by the usual answer where nobody is."""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

from tocsin.cli.lines import ask, tell
from tocsin.errors import UsageError
from tocsin.translation import tr

T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class Question(Generic[T]):
    """A question, its option, an example, and the answer that Enter gives.

    ``read`` turns a text into the answer, or raises UsageError with what would do; ``against`` is what speaks against
    an answer, as the rest of a sentence that begins with it; ``tidied`` is a text as it is understood.
    """

    option: str
    asks: str
    example: str
    usual: str
    read: Callable[[str, str], T]
    against: Callable[[T], str] = lambda _: ""
    tidied: Callable[[str], str] = str.strip


def is_terminal() -> bool:
    """Return whether a person types the answers."""
    return sys.stdin is not None and sys.stdin.isatty()


def answered(question: Question[T], given: str | None) -> T:
    """Return the answer of an option, or else of whoever is asked: one that does not fit is asked again at a terminal.

    Raises UsageError where nobody can be asked again, EOFError if a person leaves.
    """
    if given is not None:
        return _read(question, given, f"{question.option} ")
    return _asked(question) if is_terminal() else _piped(question)


def agreed(question: str, *, usual: bool) -> bool:
    """Return whether a person at the terminal says yes; Enter gives the usual answer. Raises EOFError."""
    while True:
        text = ask(f"{question} [{'yes' if usual else 'no'}] ").lower()
        if not text:
            return usual
        if text in ("y", "yes", "n", "no"):
            return text.startswith("y")
        tell(tr("  yes or no"))


def _asked(question: Question[T]) -> T:
    while True:
        text = ask(f"{question.asks} [{question.usual}] ") or question.usual
        meant = question.tidied(text)
        if meant != text:
            tell(tr("  {text} means {meant}", text=text, meant=meant))
        try:
            answer = question.read(meant, question.example)
        except UsageError as error:
            tell(f"  {error.line}")
            continue
        if not (why := question.against(answer)):
            return answer
        tell(f"  {text} {why}")


def _piped(question: Question[T]) -> T:
    """Return the answer in the next line that is piped in; an empty one, and the end of the input, give the usual one.
    Raises UsageError."""
    try:
        line = sys.stdin.readline() if sys.stdin is not None else ""
    except UnicodeDecodeError:
        hint = tr(
            "write an answer a line, e.g. {example}, or use {option}", example=question.example, option=question.option,
        )
        raise UsageError(tr("{asks} The input is no text", asks=question.asks), hint=hint) from None
    text = line.strip()
    if not text:
        tell(tr(
            "{asks} {usual} is used; {option} sets it.", asks=question.asks, usual=question.usual,
            option=question.option,
        ))
        return _read(question, question.usual, f"{question.asks} ")
    meant = question.tidied(text)
    answer = _read(question, meant, f"{question.asks} ")
    tell(f"{question.asks} {meant}")
    return answer


def _read(question: Question[T], text: str, before: str) -> T:
    """Return an answer that cannot be asked again; ``before`` says in an error whose it was. Raises UsageError."""
    try:
        answer = question.read(question.tidied(text), question.example)
    except UsageError as error:
        raise UsageError(f"{before}{error}", hint=error.hint) from None
    if why := question.against(answer):
        raise UsageError(f"{question.option} {text} {why}", hint=tr("measure it with your own robot"))
    return answer
