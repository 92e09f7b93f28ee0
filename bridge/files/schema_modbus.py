"""The keys of a relay board on a Modbus line, in a studio file."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.files.amounts import Whole
from bridge.files.parts import maybe, part
from bridge.files.shapes import Choice, Said, Words
from bridge.files.tree import Text

PARITIES = ("none", "even", "odd")


@part
class ModbusPart:
    """Where a relay board is: on a serial line (RTU) or on the network (TCP)."""

    place: Place
    serial: Text | None = maybe(
        "serial", Words(), "the serial device of its adapter: /dev/ttyUSB0"
    )
    baud: Said[int] | None = maybe(
        "baud", Whole(1200, 1_000_000, "baud"), "the speed of the line; 9600"
    )
    parity: Said[str] | None = maybe(
        "parity", Choice(PARITIES), "of the line; none, as most boards come"
    )
    address: Text | None = maybe(
        "address", Words(), "instead of serial: its address and port"
    )
    unit: Said[int] | None = maybe(
        "unit", Whole(0, 255, "unit"), "its number on the line; 1"
    )
