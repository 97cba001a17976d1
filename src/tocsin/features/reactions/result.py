"""Hold the result of a person's reaction test: figures, sentences, and how well the person steered."""

from collections.abc import Iterator, Sequence

import msgspec

from tocsin.analysis.reactions.order import CATCH, Condition
from tocsin.analysis.reactions.race_model import FEWEST, Race, race_of
from tocsin.analysis.reactions.scores import Reaction, Score, Scores, judge, reactions_of, scores_of
from tocsin.analysis.reactions.words import person_lines, race_sentence, title
from tocsin.features.reactions.files import PlayedBlock, Steered, heard_in, session_of, steered_in
from tocsin.model.plan import Role
from tocsin.translation import tr, trn

LET_GO = 0.6                           # of what the marker does alone: who is further out let it go (our own choice)
NO_LOAD = tr("There was no window to steer in: steering makes answers slower.")
PLAINLY = tr("Only the bench: the field differs.")


class PairResult(msgspec.Struct, frozen=True, kw_only=True):
    """A pair's gain for a person; ``race`` is None with too few answers."""

    pair: Condition
    race: Race | None
    sentence: str


class ReactResult(msgspec.Struct, frozen=True, kw_only=True):
    """A person's test. ``blocks`` counts the scored blocks that were played; ``reactions`` holds every judged trial of
    them. ``lines`` hold the result in words. ``journals`` are the folders of the runs, practice first."""

    person: str
    role: Role
    plan: str
    seed: int
    full: bool
    blocks: int
    scores: Scores | None
    pairs: tuple[PairResult, ...]
    steering: tuple[Steered, ...]
    reactions: tuple[Reaction, ...]
    lines: tuple[str, ...]
    journals: tuple[str, ...] = ()
    exit: int = 0


def result_of(blocks: Sequence[PlayedBlock]) -> ReactResult:
    """Return the result of a test from its blocks; practice is not scored. Raises ValueError without any block."""
    facts = blocks[0].facts
    session = session_of(blocks)
    played = [block for block in blocks if block.facts.block]
    reactions = reactions_of(session)
    scores = scores_of(session) if played else None
    pairs = tuple(_pairs(scores, reactions)) if scores else ()
    steering = tuple(told for block in played if (told := steered_in(block)))
    if scores:
        besides = (*_pair_lines(pairs), *steering_lines(steering, len(played)))
        lines = person_lines(scores, besides)
    else:
        lines = (tr("No block was played to its end: there is no result."),)
    return ReactResult(
        person=facts.person, role=facts.role, plan=facts.plan, seed=facts.seed, full=facts.full, blocks=len(played),
        scores=scores, pairs=pairs, steering=steering, reactions=reactions, lines=lines,
    )  # fmt: skip


def block_lines(block: PlayedBlock) -> tuple[str, ...]:
    """Return the lines for people after a block that is not the last: whether the task was understood."""
    heard = heard_in(block)
    session = session_of([block])
    reactions = [judge(answer, session.delays) for answer in heard.answers]
    signals = sum(reaction.condition != CATCH for reaction in reactions)
    answered = sum(reaction.outcome == "answer" for reaction in reactions)
    false_starts = heard.outside + sum(reaction.outcome == "false_start" for reaction in reactions)
    what = (
        "Practice" if not block.facts.block
        else tr("Block {block} of {blocks}", block=block.facts.block, blocks=block.facts.blocks)
    )
    lines = [
        tr("{what}: {answered} of {signals} signals answered", what=what, answered=answered, signals=signals),
        tr("{false_starts} pressed although nothing came", false_starts=false_starts),
    ]
    void = sum(reaction.outcome == "void" for reaction in reactions)
    if void:
        lines.append(tr("{void} signals that a device did not give: check it", void=void))
    steered = steered_in(block)
    if steered:
        let_go = tr(": you let it go") if _let_go(steered) else ""
        lines.append(tr(
            "The marker: {percent} off, {percent_2} if let go{let_go}", percent=_percent(steered.mean),
            percent_2=_percent(steered.alone), let_go=let_go,
        ))
    return tuple(lines)


def short_lines(result: ReactResult) -> tuple[str, ...]:
    """Return the result shortened for a window."""
    if result.scores is None:
        return result.lines
    races = {pair.pair: pair.race for pair in result.pairs}
    lines = [_short(score, races.get(score.condition)) for score in result.scores.scores]
    let_go = ", ".join(str(told.block) for told in result.steering if _let_go(told))
    load = (
        tr("the marker was let go in block {let_go}", let_go=let_go) if let_go
        else tr("with the marker") if result.steering
        else tr("no marker to steer")
    )
    known = all(score.delay_known for score in result.scores.scores)
    return (
        tr("Half of your answers came within"),
        *lines,
        tr(
            "{false_starts} false starts in all, {catches} catches; {load}", false_starts=result.scores.false_starts,
            catches=result.scores.catches, load=load,
        ),
        PLAINLY if known else tr("{plainly} * with the device's own delay", plainly=PLAINLY),
    )


def steering_lines(steering: Sequence[Steered], blocks: int) -> Iterator[str]:
    """Yield how well the person steered, for each scored block."""
    if not steering:
        yield NO_LOAD
        return
    for told in steering:
        yield _steered_line(told)
    if len(steering) < blocks:
        yield tr(
            "In {blocks} of {blocks_2} blocks it is not known how well the marker was steered.",
            blocks=blocks - len(steering), blocks_2=blocks,
        )


def _pairs(scores: Scores, reactions: Sequence[Reaction]) -> Iterator[PairResult]:
    answered = {score.condition for score in scores.scores if score.median_ms is not None}
    for score in scores.scores:
        if len(score.condition) == 2:
            # Where half were missed there is no middle to compare.
            whole = {score.condition, score.condition[:1], score.condition[1:]} <= answered
            race = race_of(score.condition, reactions) if whole else None
            yield PairResult(pair=score.condition, race=race, sentence=race_sentence(score.condition, race))


def _pair_lines(pairs: Sequence[PairResult]) -> Iterator[str]:
    """Yield a sentence for each pair; for those that cannot be compared one for all."""
    yield from (pair.sentence for pair in pairs if pair.race is not None)
    few = [title(pair.pair).removesuffix(" together").lower() for pair in pairs if pair.race is None]
    if len(few) > 1:
        yield tr(
            "Too few answers to compare {few} with each alone: {fewest} of each are needed (--full).",
            few=", ".join(few), fewest=FEWEST,
        )
    else:
        yield from (pair.sentence for pair in pairs if pair.race is None)


def _let_go(told: Steered) -> bool:
    return told.mean > LET_GO * told.alone


def _steered_line(told: Steered) -> str:
    where = tr("Steering in block {block}", block=told.block) if told.block else tr("Steering in practice")
    figures = tr(
        "{percent} off the middle on average, {percent_2} if nobody had steered", percent=_percent(told.mean),
        percent_2=_percent(told.alone),
    )
    if not _let_go(told):
        return f"{where}: {figures}."
    return tr(
        "{where}: {figures}. The marker was let go: these answers had no steering, and count for less.", where=where,
        figures=figures,
    )


def _short(score: Score, race: Race | None) -> str:
    name = title(score.condition).removesuffix(" together")
    if score.median_ms is None:
        return (
            tr("{name}: half or more missed", name=name) if score.signals
            else tr("{name}: no signal that counts", name=name)
        )
    low_ms, high_ms = score.median_interval.low_ms, score.median_interval.high_ms
    parts = [f"{name}: {score.median_ms:.0f} ms{'' if score.delay_known else '*'}"]
    if low_ms is not None and high_ms is not None:
        parts[0] += tr(" ({low:.0f} to {high:.0f})", low=low_ms, high=high_ms)
    if score.lapses:
        parts.append(trn("{count} lapse", "{count} lapses", score.lapses))
    if score.false_starts:
        parts.append(trn("{count} false start", "{count} false starts", score.false_starts))
    if race is not None:
        parts.append(tr("more than two chances") if race.broken_at else tr("no more than two chances"))
    return ", ".join(parts)


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"
