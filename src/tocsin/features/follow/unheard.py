"""Say what may stand between a follower and a keeper that is not heard, by what its line has met so far."""

import http.client
import ipaddress
import socket
import ssl

from tocsin.features.follow.address import KeeperAddress
from tocsin.features.follow.event_stream import TooLongError
from tocsin.features.follow.heard import NO_ANSWER
from tocsin.features.follow.line import Line
from tocsin.service.broker_address import BrokerAddress
from tocsin.translation import tr

# What whoever answers, but is no keeper, makes of a line: another status, no HTTP, no answer of ours, an end at once.
_OTHERS = (
    http.client.HTTPException, ConnectionResetError, ConnectionAbortedError, BrokenPipeError, TooLongError, *NO_ANSWER,
)


def lines_of(address: KeeperAddress | BrokerAddress, line: Line) -> tuple[str, ...]:
    """Return the lines that people are told while there is nothing to follow, what helps among them."""
    if line.heard_ns is not None:
        return (tr("{place} answers, but plays nothing yet. Waiting; Ctrl-C ends.", place=address.place),)
    if isinstance(line.failure, (socket.gaierror, UnicodeError)):
        return (
            tr("This laptop knows no '{host}': no such name. Trying on; Ctrl-C ends.", host=address.host),
            tr("  Is it spelt right? An address in numbers, like 10.0.0.5, needs no name."),
        )
    found = () if line.failure is not None or _is_in_numbers(address.host) else (
        tr("  '{host}' is not found yet: is it spelt right?", host=address.host),
    )
    if isinstance(address, KeeperAddress) and isinstance(line.failure, _OTHERS):
        return (
            tr(
                "Something answers at {place}, but it is no match of Tocsin. Trying on; Ctrl-C ends.",
                place=address.place,
            ),
            tr("  Are address and port those that `tocsin board --address steer` prints at the keeper?"),
            tr("  Is a broker there? Its address begins with mqtt:// and ends with the field: mqtt://10.0.0.9/blue_field"),
        )  # fmt: skip
    if isinstance(address, KeeperAddress):
        return (
            tr("Nobody answers at {place} yet. Trying on; Ctrl-C ends.", place=address.place),
            *found,
            tr("  Is the match there, started with `--board lan`?"),
            tr("  Are both laptops in one network, and is it no guest network, which keeps laptops apart?"),
            tr("  Does a firewall on that laptop keep others out?"),
        )
    return _of_broker(address, line, found)


def _of_broker(address: BrokerAddress, line: Line, found: tuple[str, ...]) -> tuple[str, ...]:
    if line.connected:
        return (
            tr(
                "The broker at {place} answers, but no keeper is heard in the field {field}. Trying on; Ctrl-C ends.",
                place=address.server, field=address.field,
            ),
            tr("  Is the match there, started with `--board {board}`?", board=address.text),
            tr("  Is the field spelt alike on both laptops, capitals too?"),
        )  # fmt: skip
    if isinstance(line.failure, ssl.SSLCertVerificationError):
        return (
            tr(
                "The broker at {place} shows a certificate that this laptop does not trust. Trying on; Ctrl-C ends.",
                place=address.server,
            ),
            tr("  Is its name the one in the certificate, and is the clock of this laptop right?"),
        )
    port = (
        tr("  Is that its encrypted port? Without encryption it is mqtt://, most often at port 1883.")
        if address.encrypted
        else tr("  Is that its port without encryption? With encryption it is mqtts://, most often at port 8883.")
    )
    return (
        tr(
            "No broker answers at {place}, for the field {field}. Trying on; Ctrl-C ends.", place=address.server,
            field=address.field,
        ),
        *found,
        tr("  Is the broker there, and in the same network?"),
        port,
        tr("  Is the keeper started with `--board {board}`?", board=address.text),
    )


def _is_in_numbers(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True
