"""Prepare what boards are served with: the address, the tokens, the page. Nothing of the core needs a web server."""

from collections.abc import Callable
from importlib.util import find_spec

import msgspec

from tocsin import __version__, monotime
from tocsin.errors import UsageError
from tocsin.export.board.page import board_page
from tocsin.journal.place import state_folder
from tocsin.model.rig import Rig
from tocsin.runner.boards.addresses import TRY, host_of, is_local, names_of, taken_note, wanted_of
from tocsin.runner.boards.tokens import TokenFile
from tocsin.service.messages import Open
from tocsin.translation import tr

INSTALLS = 'pip install "tocsin[board]"'
INSTALLS_BROKER = 'pip install "tocsin[mqtt]"'
_NEEDS = ("tornado", "segno", "rjsmin", "rcssmin")


class Opening:
    """What the service is started with, and the file of tokens. ``why_not`` says why there is no address; ``tries``
    whether the board opens in this laptop's own browser; ``look`` returns an address that is there now, or an empty
    text."""

    def __init__(
        self, host: str, kept: TokenFile, port: int | None = None, *, tries: bool = False,
        broker: str = "", look: Callable[[], str] = lambda: "",
    ) -> None:
        self.file = kept
        self.tries = tries
        self.why_not = "" if host else tr("this laptop is in no network: join one, or switch its hotspot on")
        self._look = look
        page = board_page()
        self.open = Open(
            host=host, port=port or kept.kept.port, hosts=names_of(host) if host else (), tokens=kept.kept.tokens,
            page=page.html, policy=page.policy, version=__version__, boards=kept.kept.boards,
            broker=broker,
        )  # fmt: skip


    def look_again(self) -> bool:
        """Return whether there is an address by now, which is taken then."""
        if host := self._look():
            self.why_not = ""
            self.open = msgspec.structs.replace(self.open, host=host, hosts=names_of(host))
        return not self.why_not


def opening_of(board: str, rig: Rig, say: Callable[[str], None]) -> Opening:
    """Return what boards are served with, where ``board`` of a run's options says.

    Raises UsageError where that cannot be: no web server, no such address, a robot's network.
    """
    demand_extra()
    wanted = wanted_of(board)
    if wanted.broker:
        _demand_broker(rig)
    host = host_of(wanted.at)
    if not is_local(host):
        demand_own_network(
            rig, tr("by its rig this laptop drives a robot, or may: phones are not let into a robot's network")
        )
        if note := taken_note(host):
            say(note)
    # What is only tried leaves nothing behind: neither tokens nor boards.
    kept = TokenFile(None if wanted.at == TRY else state_folder(), monotime.wall_text())
    if kept.trouble:
        say(kept.trouble)
    # Beside a robot a network that comes later may be the robot's: nobody was asked about that one.
    look = (lambda: "") if rig.drives_robot and not rig.board.beside_robot else (lambda: host_of(wanted.at))
    return Opening(host, kept, rig.board.port, tries=wanted.at == TRY, broker=wanted.broker, look=look)


def demand_extra() -> None:
    """Raise UsageError with the one command, if what serves boards is not installed. Imports nothing of it."""
    if any(find_spec(name) is None for name in _NEEDS):
        raise UsageError(tr("boards need a few more packages"), hint=INSTALLS)


def _demand_broker(rig: Rig) -> None:
    """Raise UsageError where nothing can be published: no library, or a robot's network."""
    if find_spec("paho") is None:
        raise UsageError(tr("a broker needs one more package"), hint=INSTALLS_BROKER)
    demand_own_network(rig, tr("by its rig this laptop drives a robot, or may: nothing is published from beside it"))


def demand_own_network(rig: Rig, why: str) -> None:
    """Raise UsageError with ``why`` beside a robot, unless the rig says that people thought of it."""
    if rig.drives_robot and not rig.board.beside_robot:
        raise UsageError(
            why,
            hint=tr(
                "if it never does, write drives_robot = false in your rig; if this network and the robot's are two, "
                "write [board] and below it beside_robot = true"
            ),
        )
