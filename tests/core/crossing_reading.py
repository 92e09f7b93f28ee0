"""Crossings of the benches, planned and read out line by line."""

from __future__ import annotations

from collections.abc import Mapping

from bridge.core.belief import Belief, known
from bridge.core.control import Control, Kind, Reach
from bridge.core.crossing import plan
from bridge.core.leg import Crossing, Helper, Refusal
from bridge.core.loudness import loudness_of
from bridge.core.wire import Value
from tests.core import crossing_examples as examples
from tests.core.crossing_examples import Example, bench
from tests.core.sketch import gated, switch
from tests.fakes.gain_judge import Bench, GainJudge


def planned(
    wanted: Bench, belief: Belief, goal: Mapping[str, Value], *helpers: Helper
) -> Crossing | Refusal:
    loudness = loudness_of(wanted.graph)
    judge = GainJudge(wanted)
    return plan(judge, wanted.controls, belief, goal, helpers, loudness=loudness)


def read(found: Crossing | Refusal) -> list[str]:
    """Each leg on a line: what it sets, and why."""
    assert isinstance(found, Crossing), found
    shown = {True: "on", False: "off"}
    return [
        ", ".join(
            f"{c.control} {shown[c.value] if isinstance(c.value, bool) else c.value}"
            for c in leg.changes
        )
        + f" | {leg.reason}"
        for leg in found.legs
    ]


def reading(example: Example) -> list[str]:
    start = known(example.start)
    return read(planned(example.bench, start, example.goal, *example.helpers))


def two_feeds(*never: tuple[str, str, str, float]) -> Bench:
    """A recorder's feed goes from the old bus to the new; an intercom may be open."""
    return bench(
        "host talk old new recorder",
        [
            ("host", "old"),
            ("host", "new"),
            ("talk", "old", gated("intercom")),
            ("talk", "new", gated("intercom")),
            ("old", "recorder", gated("old feed")),
            ("new", "recorder", gated("new feed")),
        ],
        [switch("intercom"), switch("old feed"), switch("new feed")],
        never=[("recorder hears talk", "talk", "recorder", 0.0), *never],
        keep=[("recorder hears host", "host", "recorder", 0.9)],
    )


DANGER = {
    "intercom": frozenset({True, False}),
    "old feed": frozenset({True}),
    "new feed": frozenset({False}),
}
GOAL: dict[str, Value] = {"intercom": False, "old feed": False, "new feed": True}


def hands(reach: Reach, **more: Value) -> Bench:
    """B3 with a microphone that no message reaches."""
    example = examples.b3()
    mic = Control("mic", "mic", "desk", Kind.SWITCH, (False, True), reach, **more)  # type: ignore[arg-type]
    controls = {**example.bench.controls, "mic": mic}
    return Bench(controls, example.bench.graph, example.bench.limits)
