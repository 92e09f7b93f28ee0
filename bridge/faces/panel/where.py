"""Where the panel listens, and by which names it may be called.

Rules of this file: no network, no clock; text in, a place or a reason out.
"""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass

from bridge.core.studio import PanelPlace
from bridge.files.studio_panel import HOST, PORT, place_of

LOOPBACK_NAMES = ("localhost", "127.0.0.1", "[::1]")


@dataclass(frozen=True, slots=True)
class Where:
    """An address and port to listen at, and the names that browsers may use for it.

    names: besides the address, with no port: what a reverse proxy is called by.
    """

    host: str = HOST
    port: int = PORT
    names: tuple[str, ...] = ()

    @property
    def is_open(self) -> bool:
        """Whether only this machine can come, so that no token is asked for."""
        return ipaddress.ip_address(self.host).is_loopback and not self.names

    @property
    def is_everywhere(self) -> bool:
        """Whether it listens at every address of this machine."""
        return ipaddress.ip_address(self.host).is_unspecified

    def hosts(self, addresses: tuple[str, ...] = ()) -> frozenset[str]:
        """What may stand in a Host header, lower case.

        addresses: this machine's own, for when it listens at all of them. A rebound
        page still sends its own name, and that is not among these.
        """
        listening = ipaddress.ip_address(self.host)
        bare = {*addresses} if self.is_everywhere else {self.host}
        shown = {f"[{a}]" if ":" in a else a for a in bare}
        if listening.is_loopback or self.is_everywhere:
            shown |= set(LOOPBACK_NAMES)
        with_port = {f"{name}:{self.port}" for name in (*shown, *self.names)}
        # A browser leaves out the port that its scheme takes for granted, and so
        # does a reverse proxy that is called by its own name.
        plain = shown if self.port == 80 else set()
        return frozenset(n.lower() for n in (*with_port, *plain, *self.names))

    def url(self, address: str = "") -> str:
        """Where to point a browser; address for when it listens everywhere."""
        if self.names:
            return f"https://{self.names[0]}/"
        host = (address or HOST) if self.is_everywhere else self.host
        return f"http://{f'[{host}]' if ':' in host else host}:{self.port}/"


def read_where(text: str, names: tuple[str, ...] = ()) -> Where | str:
    """`HOST:PORT`, `HOST` or `:PORT`; or in words what is wrong with it."""
    found = place_of(text, names)
    return found if isinstance(found, str) else at(found)


def at(place: PanelPlace) -> Where:
    """The place that a studio file names."""
    return Where(place.host, place.port, place.names)
