"""Read the address of a broker and the field in it: ``mqtt://10.0.0.9:1883/blue_field``. Pure."""

import re
from typing import NamedTuple
from urllib.parse import urlsplit

from tocsin.errors import UsageError
from tocsin.readable import readable_line
from tocsin.translation import tr

SCHEMES = {"mqtt": 1883, "mqtts": 8883}        # IANA's ports for MQTT, and MQTT over TLS (Service Name Registry)
PASSWORD = "TOCSIN_BROKER_PASSWORD"            # a variable: a command line is read by every program of a laptop
_FIELD = re.compile(r"[A-Za-z0-9_-]{1,40}")
_EXAMPLE = "mqtt://10.0.0.9/blue_field"


class BrokerAddress(NamedTuple):
    """A broker, who talks to it (empty: nobody is named), and the field whose run it carries."""

    host: str
    port: int
    field: str
    user: str = ""
    encrypted: bool = False

    @property
    def place(self) -> str:
        """Where it is, for people."""
        return f"{self.server}/{self.field}"

    @property
    def server(self) -> str:
        """The broker alone, for people."""
        return f"[{self.host}]:{self.port}" if ":" in self.host else f"{self.host}:{self.port}"

    @property
    def text(self) -> str:
        """The whole of it, as a person types it; whom the broker knows each laptop by is its own affair."""
        scheme = "mqtts" if self.encrypted else "mqtt"
        host = f"[{self.host}]" if ":" in self.host else self.host
        port = "" if self.port == SCHEMES[scheme] else f":{self.port}"
        return f"{scheme}://{host}{port}/{self.field}"

    def topic(self, name: str) -> str:
        """Return the topic of one kind of thing of this field."""
        return f"tocsin/1/{self.field}/{name}"


def names_broker(text: str) -> bool:
    """Return whether a text is meant as a broker's address."""
    return text.partition("://")[0] in SCHEMES and "://" in text


def broker_of(text: str) -> BrokerAddress:
    """Return the broker that a person typed. Raises UsageError.

    >>> broker_of("mqtt://coach@10.0.0.9/blue_field")
    BrokerAddress(host='10.0.0.9', port=1883, field='blue_field', user='coach', encrypted=False)
    """
    try:
        parts = urlsplit(text.strip())
        host, port = parts.hostname or "", parts.port or SCHEMES.get(parts.scheme, 0)
    except ValueError:                                 # a port that is no number, half a bracket
        host, port, parts = "", 0, urlsplit("")
    field = parts.path.strip("/")
    # By the text itself: a password may hold what cuts an address elsewhere, and must not be printed then either.
    if ":" in text.partition("://")[2].rpartition("@")[0]:
        raise UsageError(
            tr("a password does not belong into an address, where others can read it"),
            hint=tr("set the variable {name} to it, and leave it out here", name=PASSWORD),
        )
    if not host or not port or parts.scheme not in SCHEMES or parts.query or parts.fragment:
        raise UsageError(
            tr("'{text}' is not the address of a broker", text=readable_line(text)),
            hint=tr("it looks like {example}", example=_EXAMPLE),
        )
    if not _FIELD.fullmatch(field):
        raise UsageError(
            tr("'{text}' does not say whose match it carries: behind the last / stands the field", text=text.strip()),
            hint=tr("letters, digits, _ and -: {example}", example=_EXAMPLE),
        )
    return BrokerAddress(host, port, field, parts.username or "", parts.scheme == "mqtts")
