"""Which cable joins two jacks: plugs at both ends, wiring, pieces and adapters.

The pairings are common practice among people who wire studios; no source. Pins of an
XLR point where the signal goes, so an output takes a female plug.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from bridge.core.jacks import Cable, Jack, Level, Wiring

OWN = "its own cable"
"""The plug of gear that has a cable of its own."""

DIGITAL_ENDS: Final = ("USB", "optical", "network")
"""Connectors that carry digital sound only."""

_TAKES: Final = {
    "combo": ("XLR male", "6.3 mm TRS", "6.3 mm TS"),
    "6.3 mm TRS": ("6.3 mm TRS", "6.3 mm TS"),
    "6.3 mm TS": ("6.3 mm TS",),
    "3.5 mm TRS": ("3.5 mm TRS",),
    "RCA": ("RCA",),
    "USB": ("USB",),
    "optical": ("optical",),
    "network": ("network",),
    "speaker terminals": ("bare wire",),
}
"""The plugs that a socket takes, the usual one first."""


@dataclass(frozen=True, slots=True)
class Lead:
    """What to lay between two jacks.

    pieces: how many cables of this sort; 0 if gear brings its own. plugs: at the
    source's end and at the target's. split: one plug at one end, two at the other.
    adapters: what must be put between a plug and its socket.
    """

    pieces: int
    plugs: tuple[str, str]
    wiring: Wiring
    split: bool = False
    adapters: tuple[str, ...] = ()
    note: str = ""

    @property
    def words(self) -> str:
        """What to ask for in a shop."""
        near, far = self.plugs
        name = f"{self.wiring.value} cable, {near} to {far}"
        return f"split {name}" if self.split else name


def lead(source: Jack, target: Jack, cable: Cable) -> Lead | None:
    """The cable between two jacks, or None if no cable can join them."""
    digital = {jack.level is Level.DIGITAL for jack in (source, target)}
    if digital == {True, False}:
        return None
    if Level.DIGITAL is source.level:
        return _digital(source, target)
    if OWN in (_plug(source, Wiring.UNBALANCED), _plug(target, Wiring.UNBALANCED)):
        return _own_cable(source, target)
    wiring = _wiring(source, target)
    plugs = (_plug(source, _own(source, wiring)), _plug(target, _own(target, wiring)))
    if target.connector == "combo" and "XLR" not in source.connector:
        plugs = (plugs[0], _jack_plug(_own(target, wiring)))
    pieces, split = _pieces(source, target, cable)
    return Lead(pieces, plugs, wiring, split, note=_note(source, target, wiring))


def _digital(source: Jack, target: Jack) -> Lead | None:
    if source.end != target.end:
        return None
    return Lead(1, (source.end, target.end), Wiring.DIGITAL)


def _own_cable(source: Jack, target: Jack) -> Lead:
    """Gear with a cable of its own: nothing to buy, but perhaps an adapter."""
    own, other = source, target
    if source.connector != "fixed cable":
        own, other = target, source
    wiring = own.wiring
    plugs = (OWN, own.plug or "?")
    if own is target:
        plugs = (own.plug or "?", OWN)
    if other.connector == "fixed cable" or not own.plug:
        return Lead(0, plugs, wiring, note="see that its own plug fits")
    if wiring is Wiring.STEREO and other.sockets == 2:
        needed = f"split adapter, {own.plug} socket to two {_takes(other)[0]} plugs"
    elif own.plug in _takes(other):
        return Lead(0, plugs, wiring)
    else:
        needed = f"adapter, {own.plug} socket to {_takes(other)[0]} plug"
    return Lead(0, plugs, wiring, adapters=(needed,))


def _takes(jack: Jack) -> tuple[str, ...]:
    if jack.connector == "XLR":
        return ("XLR female",) if jack.is_output else ("XLR male",)
    return _TAKES[jack.connector]


def _plug(jack: Jack, wiring: Wiring) -> str:
    """The plug that belongs into a jack, for a cable of this wiring."""
    if jack.connector == "fixed cable":
        return OWN
    takes = _takes(jack)
    thick = _jack_plug(wiring)
    return thick if thick in takes and jack.connector != "combo" else takes[0]


def _jack_plug(wiring: Wiring) -> str:
    return "6.3 mm TS" if wiring is Wiring.UNBALANCED else "6.3 mm TRS"


def _wiring(source: Jack, target: Jack) -> Wiring:
    one, other = source.wiring, target.wiring
    if one is other:
        return one
    if Wiring.SPEAKER in (one, other):
        return Wiring.SPEAKER
    return Wiring.STEREO if Wiring.STEREO in (one, other) else Wiring.UNBALANCED


def _own(jack: Jack, wiring: Wiring) -> Wiring:
    """The wiring at one end: the split end of a stereo cable has two mono plugs."""
    return wiring if jack.wiring is wiring else Wiring.UNBALANCED


def _pieces(source: Jack, target: Jack, cable: Cable) -> tuple[int, bool]:
    """How many cables, and whether each has two plugs at one end."""
    lanes = [
        jack.lanes if lane is None else 1
        for jack, lane in ((source, cable.source_lane), (target, cable.target_lane))
    ]
    sockets = [
        min(jack.sockets, count)
        for jack, count in zip((source, target), lanes, strict=True)
    ]
    if sockets[0] == sockets[1]:
        return sockets[0], False
    return 1, True


def _note(source: Jack, target: Jack, wiring: Wiring) -> str:
    if wiring is Wiring.UNBALANCED and source.balanced and not target.balanced:
        return "its cold leg ends here: see in its manual whether that may be grounded"
    return ""
