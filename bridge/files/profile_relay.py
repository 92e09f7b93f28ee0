"""The times of a relay: pulling it, letting it fall, and the bouncing of its contacts.

Data sheets give the three apart, each at most: operate time from the drive to the
first touch of the new contact, release time from the end of the drive to the first
touch of the old one, and bounce time after either. The sound has surely followed when
the bouncing is over too.
"""

from __future__ import annotations

from collections.abc import Iterable

from bridge.core.wire import Value
from bridge.files.notes import Notes
from bridge.files.schema_controls import SettingPart


def relay_times(
    part: SettingPart, values: Iterable[Value], released: Value | None, notes: Notes
) -> dict[Value, float]:
    """How long each value takes, in ms; empty if no relay times are given.

    released: the value while nothing drives it; None if neither line nor coil does.
    """
    given = {"operate": part.operate, "release": part.release, "bounce": part.bounce}
    said = {name: one for name, one in given.items() if one is not None}
    if not said:
        return {}
    name, first = next(iter(said.items()))
    if released is None:
        notes.error(
            "key-out-of-place",
            f"{name} is for a relay, and this is not moved by a contact line or a coil",
            first.place,
            cure="say when the sound has followed with settle: instead",
        )
        return {}
    if part.settle is not None:
        notes.error(
            "key-out-of-place",
            f"settle and {name} say the same in two ways",
            part.settle.place,
            cure="leave settle: out",
        )
        return {}
    if part.operate is None or part.release is None:
        missing = "operate" if part.operate is None else "release"
        notes.error(
            "missing-key",
            f"a relay takes time both ways: {missing} is missing",
            first.place,
            cure=f"add {missing}: with the longest time of the data sheet",
        )
        return {}
    bounce = part.bounce.value if part.bounce is not None else 0.0
    return {
        value: bounce
        + (part.release.value if value == released else part.operate.value)
        for value in values
    }
