"""The worked examples, leg by leg."""

from __future__ import annotations

import pytest

from bridge.core.belief import known
from bridge.core.crossing import plan
from bridge.core.leg import Crossing, Helper, Refusal
from bridge.core.loudness import loudness_of
from tests.core import crossing_examples as examples
from tests.core.crossing_examples import HALF_DB, Example
from tests.fakes.gain_judge import GainJudge

EXAMPLES = [
    examples.b1(),
    examples.b2(),
    examples.b3(),
    examples.b4(),
    *(examples.b5(rungs) for rungs in (4, 5, 6, 7)),
    examples.b6(),
    examples.b6(Helper("trim", HALF_DB)),
    examples.b6b(),
    examples.b6b(Helper("direct", True)),
    examples.b6_gap(),
    examples.b6_gap(Helper("direct", True)),
    examples.b7(),
    examples.b7(Helper("two hears", False)),
    examples.b9(),
    examples.b9(Helper("mute", False)),
]


def planned(example: Example) -> Crossing | Refusal:
    return plan(
        GainJudge(example.bench),
        example.bench.controls,
        known(example.start),
        example.goal,
        example.helpers,
        loudness=loudness_of(example.bench.graph),
    )


def words(crossing: Crossing) -> list[frozenset[str]]:
    """Each leg as the examples write it."""
    shown = {True: "on", False: "off"}
    return [
        frozenset(
            f"{c.control} {shown[c.value] if isinstance(c.value, bool) else c.value}"
            for c in leg.changes
        )
        for leg in crossing.legs
    ]


@pytest.mark.parametrize(
    "example", EXAMPLES, ids=lambda e: f"{e.name}-{len(e.helpers)}"
)
def test_the_legs_are_those_of_the_example(example: Example) -> None:
    found = planned(example)
    if example.legs is None:
        assert isinstance(found, Refusal)
        assert found.rules == tuple(example.colliding)
        assert found.searched_all
    else:
        assert isinstance(found, Crossing)
        assert words(found) == list(example.legs)
