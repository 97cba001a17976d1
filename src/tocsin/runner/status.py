"""Gather the status for window and terminal from the stage and the programme."""

from tocsin.model.clock.origins import Phase
from tocsin.model.display.status import Afar, KeyHelp, Status
from tocsin.runner.power import battery_text
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Stage
from tocsin.units import NS_PER_S

BATTERY_NS = 20 * NS_PER_S
_SCRIBES: tuple[Phase, ...] = ("standby", "waiting", "running", "held")


class StatusReader:
    """Gives a status whenever it has changed. ``awake`` says whether the laptop is kept from sleep."""

    def __init__(self, stage: Stage, programme: Programme, awake: str) -> None:
        self._stage = stage
        self._programme = programme
        self._awake = awake
        self._newest: Status | None = None
        self._battery = ""
        self._battery_ns: int | None = None        # when it was read

    def take_new(self, result: tuple[str, ...], now_ns: int) -> Status | None:
        """Return the status if it differs from the last one, with the lines of a match that has ended."""
        if self._battery_ns is None or now_ns - self._battery_ns > BATTERY_NS:
            self._battery_ns = now_ns
            self._battery = battery_text()
        status = status_of(self._stage, self._programme, result, now_ns, battery=self._battery, awake=self._awake)
        if status == self._newest:
            return None
        self._newest = status
        return status


def status_of(
    stage: Stage, programme: Programme, result: tuple[str, ...], now_ns: int, *, battery: str = "", awake: str = ""
) -> Status:
    """Return the present status; ``result`` are the lines of a match that has ended."""
    match, life, piece = stage.match, stage.match.lifecycle, stage.piece
    typed = stage.display_entry.text if stage.display_entry.is_open(now_ns, stage.run_no, life.phase) else ""
    return Status(
        phase=life.phase,
        origins=life.origins,
        held_ns=life.held_ns,
        variant=life.variant,
        label=stage.options.label,
        plans=tuple(found.plan.name for found in stage.files.plans),
        plan_no=stage.plan_no,
        error_ms=match.error_ms,
        early_ms=match.early_ms,
        rate=stage.options.rate,
        devices=stage.device_states.facts(),
        keys=_typing_keys(stage) if typed else _keys(stage, programme),
        typed=typed,
        all_keys=now_ns < stage.all_keys_until_ns,
        scribe=() if typed else _scribe(stage, programme),
        battery=battery,
        awake=awake,
        notice=stage.notices.at(now_ns, life.phase),
        earlier=stage.notices.earlier(now_ns, life.phase),
        result=(result and programme.result()) or result,
        picture=programme.picture() if result else None,
        video=programme.video() if result else "",
        card=programme.card(now_ns),
        named=programme.named,
        ask=programme.ask(stage, life.phase),
        clear_until_ns=programme.clear_until_ns,
        keeps_out=programme.of_match and programme.keeps_out,
        outside_until_ns=stage.outside_until_ns if programme.of_match and programme.keeps_out else None,
        start=stage.rig.start,
        begins=piece.begins or piece.at,
        given=tuple(sorted(match.given_ever)),
        shows=programme.shows,
        sign=programme.sign(),
        of_match=programme.of_match,
        names_plan=programme.names_plan,
        behind_ns=piece.behind_ns,
        boards=stage.rights.fact(life.phase, now_ns),
        follows=programme.follows,
        afar=_afar(stage, programme, now_ns) if stage.boards.wanted else None,
    )


def _afar(stage: Stage, programme: Programme, now_ns: int) -> Afar:
    phase = stage.match.lifecycle.phase
    return Afar(
        ask=programme.ask_afar(stage, phase), card=programme.card_afar(now_ns),
        notice=stage.notices.at(now_ns, phase, afar=True),
    )  # fmt: skip


def _scribe(stage: Stage, programme: Programme) -> tuple[KeyHelp, ...]:
    """Return the keys of a scribe's marks before and in a match; after it, and where nobody can press one, none."""
    marks = programme.of_match and not programme.keys_alone
    told = marks and _by_keys(stage) and stage.match.lifecycle.phase in _SCRIBES
    return stage.keymap.scribe(programme.marks) if told else ()


def _typing_keys(stage: Stage) -> tuple[KeyHelp, ...]:
    """Return the keys while somebody types the display's time: digits mean nothing else then."""
    key_for = stage.keymap.key_for
    return stage.display_entry.keys(key_for("start"), key_for("undo"), key_for("scrap"))


def _by_keys(stage: Stage) -> bool:
    return stage.front.interactive or stage.by_key


def _keys(stage: Stage, programme: Programme) -> tuple[KeyHelp, ...]:
    """Return the keys that mean something now; none where nobody can press one."""
    if not _by_keys(stage):
        return ()
    return stage.keymap.keyed(offers_of(stage, programme))


def offers_of(stage: Stage, programme: Programme) -> tuple[tuple[str, str], ...]:
    """Return the actions that mean something now, with or without a key, and what they do."""
    timeline, phase = stage.match.timeline, stage.match.lifecycle.phase
    callable_cues = [firing.cue for firing in timeline.firings if firing.begin.anchor == f"call.{firing.cue}"]
    found = stage.keymap.offers(
        phase,
        waits=len(timeline.segments) > 1,
        variants=bool(timeline.variants),
        callable_cues=dict.fromkeys(callable_cues) if programme.leads else (),
        besides=programme.keys(phase),
        alone=programme.keys_alone,
        starts=not (phase == "standby" and programme.refuses_start()),
        marks=programme.of_match and programme.leads,
        sound="sound" in stage.options.only,
        phones=stage.rights.actions(phase),
    )
    return tuple((action, does) for action, does in found if action != "display" or programme.follows_display)
