"""Builds everything concrete: the only file that knows every class."""

from __future__ import annotations

from bridge.adapters.osc_codec import encode
from bridge.core.wire import Osc


def packet(message: Osc) -> bytes:
    """The packet that the service sends for this message; empty if it cannot."""
    made = encode(message)
    return made if isinstance(made, bytes) else b""
