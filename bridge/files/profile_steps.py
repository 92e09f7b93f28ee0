"""Levels that go in steps: the rungs of the ladder, and what may be said of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

from bridge.core.wire import Value
from bridge.files.notes import Notes
from bridge.files.schema_controls import LevelPart

MOST_RUNGS = 60
"""Steps from the quietest level to the loudest: 60 dB by 1 dB. A leg lasts as long as
they take, and the newest press waits for it."""

MOST_S = 3.0
"""How long all of them may take: longer, and a person presses again."""


def check_steps(
    part: LevelPart, numbers: Iterable[tuple[Value, float]], notes: Notes
) -> bool:
    """Whether a level can go in such steps; notes why not."""
    steps = part.steps
    assert steps is not None
    place = steps.at_most.place
    finite = _finite(numbers)
    if part.by_hand is not None:
        notes.error(
            "key-out-of-place",
            "steps are for a level that messages set, and this is set by hand",
            steps.place,
            cure="leave steps: out",
        )
    elif steps.at_most.value <= 0.0:
        notes.error("wrong-value", "a step must be more than 0 dB", place)
    elif len(finite) < 2:
        notes.error(
            "wrong-value",
            "steps need two levels of the scale that are not off, and there is one",
            steps.place,
            cure="write the quietest level above off into scale: too",
        )
    elif (count := _count(finite, steps.at_most.value)) > MOST_RUNGS or (
        count * steps.every.value > MOST_S * 1000
    ):
        lasts = count * steps.every.value / 1000
        notes.error(
            "wrong-value",
            f"that makes {count} steps, which take {lasts:.1f} s",
            steps.place,
            note=f"at most {MOST_RUNGS} steps and {MOST_S:g} s, or a press would wait",
            cure="write more dB for at most:, or a shorter time for every:",
        )
    else:
        return True
    return False


def rungs(
    numbers: Iterable[tuple[Value, float]],
    used: Iterable[float],
    step_db: float,
    number_of: Callable[[float], float],
) -> tuple[float, ...]:
    """The ladder, rising from the quietest level that is not off.

    used: levels with messages of their own, which need no rung; nor does a level that
    is the same to the gear as one that is there already.
    """
    finite = _finite(numbers)
    if step_db <= 0.0 or not finite:
        return ()
    taken = {number_of(level) for level in used}
    ladder = []
    for rung in range(_count(finite, step_db) + 1):
        level = min(finite[0] + rung * step_db, finite[-1])
        if number_of(level) not in taken:
            taken.add(number_of(level))
            ladder.append(level)
    return tuple(ladder)


def _finite(numbers: Iterable[tuple[Value, float]]) -> list[float]:
    return sorted(float(level) for level, _ in numbers if float(level) > -math.inf)


def _count(finite: list[float], step_db: float) -> int:
    return math.ceil((finite[-1] - finite[0]) / step_db - 1e-9)
