"""What is said of crossings in which a step by hand would be unsafe.

Such a crossing is refused when it is asked for. That is an advice where the scene can
be had from somewhere else, and an error where it can be had from nowhere.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core.control import Scene
from bridge.core.finding import Finding, Severity
from bridge.core.leg import Refusal

NO_SCENE = "the start"
"""Where no scene has led to: nothing is known there."""

RULE = "unsafe-step-by-hand"

NOTE = "a step by hand may be forgotten, or done too early: it may protect nobody"


class HandNotes:
    """Which crossings are refused because of a step by hand, and which lead there."""

    def __init__(self) -> None:
        self._refused: dict[tuple[str, str], tuple[Scene, Refusal]] = {}
        self._from: dict[str, dict[str, None]] = {}

    def refused(self, start: str, scene: Scene, refusal: Refusal) -> None:
        """This crossing may not be."""
        self._refused.setdefault((start, scene.name), (scene, refusal))

    def led(self, start: str, scene: Scene) -> None:
        """This crossing may be."""
        self._from.setdefault(scene.name, {})[start] = None

    def findings(self) -> Iterator[Finding]:
        """One for each crossing that may not be."""
        for (start, name), (scene, refusal) in self._refused.items():
            ways = [way for way in self._from.get(name, ()) if way != start]
            yield unsafe_step(refusal, scene, f"{start} to {name}", ways)


def unsafe_step(
    refusal: Refusal, scene: Scene, where: str, ways: list[str] | None = None
) -> Finding:
    """The finding; ways: scenes from which the scene can be had, if that is known."""
    cure = "let a scene before it, in which the step harms nobody, ask for it"
    named = [way for way in ways or () if way != NO_SCENE]
    if named:
        cure = f"go to {' or '.join(named[:3])} first; or {cure}"
    return Finding(
        rule=RULE,
        message=f"{where} is not allowed: {refusal.words}",
        place=scene.place,
        severity=Severity.ADVICE if ways else Severity.ERROR,
        where=where,
        limit="safe whenever it is done, and if it never is",
        note=NOTE,
        cure=cure,
    )
