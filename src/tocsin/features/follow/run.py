"""Follow a keeper from its address until a person leaves: find it, then play what it plays."""

import threading
from collections.abc import Callable
from importlib.util import find_spec

import msgspec

from tocsin import monotime
from tocsin.config import bundle
from tocsin.config.file_cache import FileCache
from tocsin.config.files import FileText, file_text
from tocsin.config.load import load_rig
from tocsin.config.reading import RIG
from tocsin.errors import UsageError
from tocsin.features.follow.address import KeeperAddress
from tocsin.features.follow.files import rate_of
from tocsin.features.follow.http_line import HttpLine
from tocsin.features.follow.keeper import Keeper
from tocsin.features.follow.line import Line
from tocsin.features.follow.programme import Follower
from tocsin.features.follow.unheard import lines_of
from tocsin.journal import records
from tocsin.model.rig import Rig
from tocsin.runner.boards.addresses import LAN, is_local
from tocsin.runner.boards.opening import INSTALLS_BROKER, demand_own_network
from tocsin.runner.options import RunOptions
from tocsin.runner.run import Say, alone, play
from tocsin.service.broker_address import BrokerAddress
from tocsin.translation import tr
from tocsin.units import NS_PER_S

PATIENCE_NS = 4 * NS_PER_S             # then it is told that nobody answers; it is tried on
_LOOK_S = 0.1


def follow(
    address: KeeperAddress | BrokerAddress, options: RunOptions, say: Say, *, json_output: bool
) -> records.Summary:
    """Play what the keeper at an address plays, on the rig of the options; return the last match's summary.

    Waits for a keeper that is not there yet. Raises UsageError for one that lets nobody in with this token, or has
    another version, and beside a robot; MistakeError for a rig with mistakes; JournalError, DeviceError.
    """
    demand_no_robot(address.host, load_rig(options.rig))
    rig = _rig_text(options.rig)
    with alone() as note:
        if note:
            say(note)
        bell = threading.Event()
        line, keeper = _line_to(address, bell.set), Keeper(address.place)
        line.start()
        try:
            header = _first_header(address, line, keeper, bell, say)
            board = LAN if isinstance(address, KeeperAddress) else address.text
            unseen = options.screen == "none"
            follower = Follower(line, keeper, rig, options, board=board, say=say if unseen else None)
            options = msgspec.structs.replace(options, plans=(), start="key", rate=rate_of(header.options))
            summary = play(follower.files.files, options, say, json_output, programme=follower)
            if unseen:
                say(follower.followed)
            if follower.left is not None:
                say(tr("The match was left; what was played of it here lies in {folder}", folder=follower.left))
            return summary
        finally:
            line.close()


def _line_to(address: KeeperAddress | BrokerAddress, wake: Callable[[], None]) -> Line:
    if isinstance(address, KeeperAddress):
        return HttpLine(address, wake)
    if find_spec("paho") is None:
        raise UsageError(tr("a broker needs one more package"), hint=INSTALLS_BROKER)
    from tocsin.features.follow.broker_line import BrokerLine  # only here: most laptops have no library for it

    return BrokerLine(address, wake)


def demand_no_robot(host: str, rig: Rig) -> None:
    """Raise UsageError where to follow would mean to talk over a robot's network; on this laptop it never does."""
    if not is_local(host):
        demand_own_network(
            rig, tr("by its rig this laptop drives a robot, or may: it follows nobody over a robot's network")
        )


def _rig_text(rig: str) -> FileText:
    """Return the text of this laptop's rig, which has no mistakes."""
    document = FileCache().parsed(RIG, bundle.find("rigs", rig)).document
    return file_text(RIG.kind, document.name, document.text)


def _first_header(
    address: KeeperAddress | BrokerAddress, line: Line, keeper: Keeper, bell: threading.Event, say: Say
) -> records.Header:
    """Wait until it is known what the keeper plays; return its header. Raises UsageError if it lets nobody in."""
    began_ns, told = monotime.now_ns(), False
    while keeper.run is None or keeper.state is None:
        bell.wait(_LOOK_S)
        bell.clear()
        now_ns = monotime.now_ns()
        keeper.take(line.take(), now_ns)
        if keeper.refusal is not None:
            raise UsageError(keeper.refusal.why, hint=keeper.refusal.hint)
        if keeper.wants_run(now_ns):
            line.fetch_run()
        if not told and now_ns - began_ns > PATIENCE_NS:
            told = True
            for text in lines_of(address, line):
                say(text)
    return keeper.run.header
