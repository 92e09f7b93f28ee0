"""At what level each jack is full: what its profile says, or the digital scale."""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core.ceiling import Ceiling
from bridge.core.jacks import Jack, Level
from bridge.core.levels import EBU_ALIGNMENT_DBFS, headroom_db
from bridge.files.studio_draft import Draft, Gear


def ceilings(draft: Draft) -> Iterator[Ceiling]:
    """Every jack of which it is known.

    A digital scale ends at 0 dBFS. Where nothing is said of it, and of a jack from
    which a feed or a far person takes, EBU R 68 is assumed: 18 dB over nominal level.
    """
    for gear in draft.gear.values():
        taken = _taken(gear)
        for name, jack in gear.profile.jacks.items():
            if gear.profile.passive:
                continue
            known = _known(jack.facts) or (_assumed() if name in taken else None)
            if known is not None:
                full = f"{gear.name}.{name}"
                yield Ceiling(full, draft.graph.known(full), *known)


def _known(jack: Jack) -> tuple[float, str] | None:
    nominal, most = jack.nominal_db, jack.most_db
    if jack.level is Level.DIGITAL:
        if nominal is None:
            return _assumed()
        return headroom_db(nominal), f"full at 0 dBFS, nominal {jack.level_words}"
    if nominal is None or most is None:
        return None
    return most - nominal, f"full at {most:+.1f} dBu, nominal {jack.level_words}"


def _assumed() -> tuple[float, str]:
    return headroom_db(
        EBU_ALIGNMENT_DBFS
    ), "full at 0 dBFS, nominal -18 dBFS by EBU R 68"


def _taken(gear: Gear) -> set[str]:
    """The inputs from which somebody takes, or that are recorded."""
    if gear.profile.kind == "recorder":
        return {j.name for j in gear.profile.jacks.values() if not j.is_output}
    return {entry.part.value for entry in gear.part.takes if entry.part is not None}
