"""Say at which address of this laptop boards are served: one of its own, never all of them at once."""

import ipaddress
import socket
from typing import NamedTuple

import psutil

from tocsin.errors import UsageError
from tocsin.readable import readable_line
from tocsin.service.broker_address import broker_of, names_broker
from tocsin.translation import tr

HERE = "here"                          # what `--board` alone means: programs and windows of this laptop
LAN = "lan"
TRY = "try"                            # as HERE, and the board opens in this laptop's own browser
_LOOPBACK = "127.0.0.1"
# Networks within this laptop, of containers and virtual machines: no phone is ever in one (names from memory).
_WITHIN = ("docker", "br-", "veth", "virbr", "vmnet", "vboxnet", "podman", "tun", "tap", "utun", "wg", "zt")


class Wanted(NamedTuple):
    """What `--board` asks for: where to listen, and the broker to publish at, empty for none."""

    at: str
    broker: str = ""


def wanted_of(board: str) -> Wanted:
    """Return what a board's option says: places to listen at and brokers, with a comma between. Raises UsageError.

    >>> wanted_of("lan,mqtt://10.0.0.9/blue_field")
    Wanted(at='lan', broker='mqtt://10.0.0.9/blue_field')
    """
    parts = [part.strip() for part in board.split(",")]
    brokers, at = [part for part in parts if names_broker(part)], [part for part in parts if not names_broker(part)]
    for part in at:
        _demand_place(part)
    if len(brokers) > 1 or len(at) > 1:
        raise UsageError(
            tr("--board {board}: one place to listen at, and one broker at the most", board=board), hint=_choice(),
        )
    for broker in brokers:
        broker_of(broker)
    return Wanted((*at, HERE)[0], (*brokers, "")[0])


class Address(NamedTuple):
    """An address of this laptop, and the network that it belongs to, as the system calls it."""

    text: str
    network: str


def addresses() -> tuple[Address, ...]:
    """Return this laptop's addresses that a phone could reach, the likeliest first."""
    states = psutil.net_if_stats()
    found = [
        Address(one.address, network)
        for network, ones in psutil.net_if_addrs().items()
        for one in ones
        if one.family == socket.AF_INET and getattr(states.get(network), "isup", False) and _is_reachable(one.address)
    ]
    return tuple(sorted(found, key=_likeliness))


def host_of(board: str) -> str:
    """Return the address to listen at, empty where this laptop is in no network. Raises UsageError for an address that
    is none, or not this laptop's."""
    if board in (HERE, TRY):
        return _LOOPBACK
    if board == LAN:
        return next((one.text for one in addresses()), "")
    _demand_place(board)
    wanted = ipaddress.ip_address(board)
    if wanted.is_unspecified or wanted.is_multicast:
        raise UsageError(tr("--board {board}: that is every network at once", board=board), hint=_choice())
    if not wanted.is_loopback and board not in _own():
        raise UsageError(tr("--board {board}: this laptop has no such address", board=board), hint=_choice())
    return board


def is_local(host: str) -> bool:
    """Return whether only programs of this laptop reach a host; none at all is reached by nobody else."""
    return host in ("", "localhost") or (_is_address(host) and ipaddress.ip_address(host).is_loopback)


def names_of(host: str) -> tuple[str, ...]:
    """Return the names by which browsers call an address."""
    bare = f"[{host}]" if ":" in host else host
    return (bare, "localhost") if is_local(host) else (bare,)


def taken_note(host: str) -> str:
    """Return what people should know of an address that was taken among several, or an empty text."""
    others = [f"{one.text} ({one.network})" for one in addresses() if one.text != host]
    if not others:
        return ""
    return tr(
        "Boards are at {host}. If phones are in another network: --board ADDRESS, with one of {others}.", host=host,
        others=", ".join(others),
    )


def _demand_place(part: str) -> None:
    """Raise UsageError for what is neither an address nor a word that stands for one."""
    if part in (HERE, TRY, LAN) or _is_address(part):
        return
    host, colon, port = part.rpartition(":")
    if colon and port.isdecimal() and _is_address(host.strip("[]")):
        raise UsageError(
            tr("--board {board}: an address has no port here", board=part),
            hint=tr("`--board {host}`; the port stands in your rig: [board] and below it port = {port}",
                    host=host.strip("[]"), port=port),
        )  # fmt: skip
    raise UsageError(
        tr("'{text}' is no address; write --board lan, or --board as the last word", text=readable_line(part)),
        hint=_choice(),
    )


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True


def _choice() -> str:
    found = ", ".join(f"{one.text} ({one.network})" for one in addresses())
    if not found:
        return tr("this laptop is in no network: join one, or switch its hotspot on")
    return tr("this laptop has {found}; `--board lan` takes the first", found=found)


def _own() -> set[str]:
    """Return all addresses of this laptop, without the network that IPv6 ones name."""
    return {one.address.partition("%")[0] for ones in psutil.net_if_addrs().values() for one in ones}


def _is_reachable(text: str) -> bool:
    address = ipaddress.ip_address(text)
    return not (address.is_loopback or address.is_link_local or address.is_unspecified)


def _likeliness(one: Address) -> tuple[bool, bool, str]:
    """Return the order: real networks before those within this laptop, private ones before others."""
    return one.network.startswith(_WITHIN), not ipaddress.ip_address(one.text).is_private, one.network
