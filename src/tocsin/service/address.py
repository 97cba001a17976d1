"""Listen at one address of this laptop, and say in words why not."""

import errno
import ipaddress
import socket

from tornado.netutil import bind_sockets

from tocsin.translation import tr


class Unusable(Exception):
    """Nothing can listen there; the text says why."""


def bound(host: str, port: int) -> tuple[list[socket.socket], str]:
    """Return the listening sockets and the address to type, ``http://10.0.0.5:8737/``; a free port if it is taken.

    Raises Unusable if ``host`` is no address of this laptop.
    """
    try:
        address = ipaddress.ip_address(host)
    except ValueError as error:
        raise Unusable(tr("'{host}' is no address: it is written like 192.168.1.5", host=host)) from error
    if address.is_unspecified or address.is_multicast:
        raise Unusable(tr("{host} is not one address: name the one by which phones reach this laptop", host=host))
    try:
        listening = _listen(host, port)
    except OSError as error:
        if error.errno in (errno.EADDRNOTAVAIL, errno.EINVAL):
            why = tr("{host} is no address of this laptop now: is it in that network?", host=host)
        else:
            reason = (error.strerror or str(error)).lower()
            why = tr("nothing can listen at {host}, port {port}: {reason}", host=host, port=port, reason=reason)
        raise Unusable(why) from error
    name = f"[{host}]" if address.version == 6 else host
    return listening, f"http://{name}:{listening[0].getsockname()[1]}/"


def _listen(host: str, port: int) -> list[socket.socket]:
    try:
        return bind_sockets(port, address=host)
    except OSError as error:
        # Taken, or (Windows, from memory) kept for somebody else, or only for administrators.
        if not port or error.errno not in (errno.EADDRINUSE, errno.EACCES):
            raise
        return bind_sockets(0, address=host)
