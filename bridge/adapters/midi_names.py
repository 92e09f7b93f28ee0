"""Which MIDI device is meant: names as the system prints them, numbers left out.

Systems print "client:port" and often numbers that change with the order of plugging
in. A studio names a device by the whole text, by its port or by its client.
"""

import re
from collections.abc import Collection, Iterable, Sequence
from difflib import SequenceMatcher
from typing import Final

from bridge.adapters.midi_backend import Device

NAMES_TOLD: Final = 8
"""Names shown to a person who wrote a wrong one."""

_CHANGING: Final = re.compile(r" \d+:\d+$| \[\d+\]")


def stable(name: str) -> str:
    """Return a printed name without the numbers that change."""
    return _CHANGING.sub("", name).strip()


def called(wanted: str, devices: Iterable[Device]) -> list[Device]:
    """Return the devices that a name means, in the order given."""
    return [device for device in devices if stable(wanted) in _names_of(device)]


def _names_of(device: Device) -> tuple[str, str, str]:
    whole = stable(device.name)
    client, _, port = whole.partition(":")
    return whole, client.strip(), port.strip() or whole


def chosen(
    wanted: str,
    nth: int | None,
    devices: Sequence[Device],
    taken: Collection[str] = (),
) -> Device | str | None:
    """Return the one device that is meant, None if there is none, or why not one.

    `nth` counts from 1 among devices of the same name, in the order given. One that is
    alone may be either of two, and is not taken for the one that is meant. taken: the
    addresses of those that others hold, of which one that is left is the other.
    """
    found = called(wanted, devices)
    if not found or (len(found) == 1 and nth is None):
        return found[0] if found else None
    if len(found) == 1:
        return (
            f'only one MIDI device is called "{wanted}" now, and which of those that '
            f"nth: {nth} counts it is, nobody knows: plug the others in, or leave nth "
            "out"
        )
    if nth is not None and 0 < nth <= len(found):
        free = [device for device in found if device.address not in taken]
        return free[0] if len(free) == 1 else found[nth - 1]
    listed = ", ".join(f'{k} "{stable(d.name)}"' for k, d in enumerate(found, 1))
    meant = f" and nth is {nth}" if nth is not None else ""
    return (
        f'"{wanted}" is the name of {len(found)} MIDI devices{meant}: write a longer '
        f"name, or nth and the number of one ({listed})"
    )


def absent(wanted: str, devices: Iterable[Device]) -> str:
    """Say that there is no such device, and what there is, nearest names first."""
    there = nearest(wanted, {stable(device.name) for device in devices})
    return (
        f'no MIDI device is called "{wanted}": plug it in, or write the name of one '
        f"that is there ({there})"
    )


def nearest(wanted: str, names: Collection[str]) -> str:
    """List names for a person, those most like the wanted one first."""
    ordered = sorted(names, key=lambda name: (-_likeness(wanted, name), name))
    there = ", ".join(f'"{name}"' for name in ordered[:NAMES_TOLD]) or "none at all"
    more = f" and {len(names) - NAMES_TOLD} more" if len(names) > NAMES_TOLD else ""
    return there + more


def _likeness(wanted: str, name: str) -> float:
    return SequenceMatcher(a=wanted.casefold(), b=name.casefold()).ratio()
