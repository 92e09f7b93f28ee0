"""Where the panel is served: an address and a port, by file or by command line."""

from __future__ import annotations

import ipaddress
import re

from bridge.core.studio import PanelPlace
from bridge.files.notes import Notes
from bridge.files.schema_studio import PanelPart

HOST = "127.0.0.1"
PORT = 9780
EXAMPLE = "192.168.4.2:9780"

_NAME = re.compile(r"(?i)[a-z0-9](?:[a-z0-9-]*[a-z0-9])?(?:\.[a-z0-9-]+)*(?::\d{1,5})?")


def place_of(text: str, names: tuple[str, ...] = ()) -> PanelPlace | str:
    """`HOST:PORT`, `HOST` or `:PORT`; or in words what is wrong with it."""
    host, port = text.strip(), ""
    if host.startswith("["):
        host, _, port = host[1:].partition("]")
        port = port.removeprefix(":")
    elif host.count(":") == 1:
        host, _, port = host.partition(":")
    if host.lower() in ("", "localhost"):
        host = HOST
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return f'"{host}" is not an address in numbers, such as {EXAMPLE}'
    if port and not (port.isascii() and port.isdigit() and int(port) <= 65_535):
        return f'"{port}" is not a port; a port is a number from 1 to 65535'
    return PanelPlace(str(address), int(port) if port else PORT, names)


def read_panel(part: PanelPart | None, notes: Notes) -> PanelPlace | None:
    """The panel of a studio file, None if it has none; notes what is wrong."""
    if part is None:
        return None
    for name in part.names:
        if not _NAME.fullmatch(name.value):
            notes.error(
                "bad-panel-name",
                f'"{name.value}" is not a name that a browser could ask for',
                name.place,
                cure="write it as in the address line, without http://",
            )
    names = tuple(name.value.lower() for name in part.names)
    found = place_of(part.at.value if part.at else "", names)
    if isinstance(found, str):
        assert part.at is not None
        cure = f"write an address of this computer and a port: {EXAMPLE}"
        notes.error("bad-panel-place", found, part.at.place, cure=cure)
        return None
    return found
