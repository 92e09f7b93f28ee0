"""What the service says about its panel on the console: where it is, and the token."""

from __future__ import annotations

import io
import socket
from importlib.util import find_spec

from bridge.faces.outcome import CouldNotRunError
from bridge.faces.panel.where import Where

NEEDED = ("starlette", "uvicorn", "segno")
INSTALL = "pip install 'treadle[panel]'"

CAUTION = "Anybody who has this token can change what is heard and sent here."
IN_CLEAR = (
    "The page is not encrypted on its way; a reverse proxy can do that: see README."
)


def need_extra() -> None:
    """Raise CouldNotRunError unless what the panel needs is installed."""
    missing = [name for name in NEEDED if find_spec(name) is None]
    if missing:
        why = f"the panel needs {', '.join(missing)}, which is not installed"
        raise CouldNotRunError(why, INSTALL)


def own_addresses() -> tuple[str, ...]:
    """This machine's own addresses, as its name leads to, and as it reaches out."""
    found = {"127.0.0.1", "::1"}
    try:
        for info in socket.getaddrinfo(socket.gethostname(), None):
            found.add(str(info[4][0]).partition("%")[0])
    except OSError:
        pass  # a machine without a name on its network
    # No packet goes out: a datagram socket only looks the way up.
    for family, far in (
        (socket.AF_INET, "192.0.2.1"),
        (socket.AF_INET6, "2001:db8::1"),
    ):
        with socket.socket(family, socket.SOCK_DGRAM) as probe:
            try:
                probe.connect((far, 9))
                found.add(str(probe.getsockname()[0]))
            except OSError:
                continue  # no way out by this family
    return tuple(sorted(found))


def outer_address(addresses: tuple[str, ...]) -> str:
    """The address that a phone would use: one that is not this machine only."""
    for address in addresses:
        if not address.startswith(("127.", "fe80")) and address != "::1":
            return address
    return ""


def notice(where: Where, token: str | None, *, address: str = "") -> str:
    """Where the panel is; and, once, the token as text and as a QR code."""
    url = where.url(address)
    if where.is_open:
        return f"panel: {url} (this machine only)"
    if token is None:
        return f"panel: {url} (devices that were let in before; else --new-token)"
    link = f"{url}#token={token}"
    return (
        f"panel: {url}\n{qr(link)}\n"
        f"  link:  {link}\n  token: {token}\n"
        f"  This is shown once. {CAUTION}" + ("" if where.names else f"\n  {IN_CLEAR}")
    )


def qr(text: str) -> str:
    """A QR code (ISO/IEC 18004) in characters, dark on light on any terminal."""
    import segno

    drawn = io.StringIO()
    segno.make_qr(text, error="l").terminal(drawn, compact=True)
    return drawn.getvalue().rstrip("\n")
