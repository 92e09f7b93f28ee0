"""Whether what a profile sends goes the way that its `speaks` says."""

from __future__ import annotations

from collections.abc import Iterable

from bridge.core.finding import Place
from bridge.files.notes import Notes


def goes_its_way(
    notes: Notes, what: str, languages: Iterable[str], speaks: str, place: Place
) -> bool:
    """Whether it does; notes what does not.

    what: the begin of a sentence, such as `"mic to air" is set`. speaks: "" if the
    profile does not say.
    """
    others = set(languages) - {speaks}
    if not others:
        return True
    other = min(others)
    notes.error(
        "wrong-language",
        f"{what} over {other}, but the profile speaks {speaks or 'nothing'}",
        place,
        cure="" if speaks else f"write speaks: {other}",
    )
    return False
