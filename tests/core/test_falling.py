"""The service may die in the middle of a crossing: then relays fall, and it is safe.

`out` is a relay that falls to `rest`, where the bed is joined to the line. In both
scenes that is harmless, since one of two switches is off; between them it is not.
"""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

from bridge.core.belief import Belief, Setting, known
from bridge.core.burst import NoBurst
from bridge.core.demand import Demand, Sentence
from bridge.core.guard import Judge
from bridge.core.judge import HouseJudge
from bridge.core.leg import Refusal
from bridge.core.planner import Planner
from bridge.core.studio import Studio
from bridge.core.wire import Contact, Value
from tests.core.sketch import Sketch, gated, selector, switch
from tests.fakes.over_osc import over_osc
from tests.fakes.trial import FATES, Stage


def changeover() -> Studio:
    sketch = Sketch()
    sketch.edge("talk", "line", 0.0, 0.0, gated("first"))
    sketch.edge("line", "bed", 0.0, 0.0, gated("second"), gated("out", "rest"))
    studio = over_osc(
        sketch.studio(
            switch("first", at_power_up=False),
            switch("second", at_power_up=False),
            selector("out", "rest", "pulled"),
            sources=[sketch.source("talk", "talk")],
            listeners=[sketch.listener("bed", "bed")],
            scenes={
                "one": {"first": True, "second": False, "out": "pulled"},
                "two": {"first": False, "second": True, "out": "pulled"},
            },
            sentences=[Sentence(Demand.NEVER, "bed", "talk", "bed never hears talk")],
        )
    )
    lines = {"rest": False, "pulled": True}
    out = replace(
        studio.controls["out"],
        messages={v: (Contact("out", high),) for v, high in lines.items()},
        ask=(),
        at_rest="rest",
        hold_off_ms=0.0,
        gap=True,
    )
    meanings = {k: m for k, m in studio.meanings.items() if m[0].control != "out"}
    controls = {**studio.controls, "out": out}
    return replace(studio, controls=controls, meanings=meanings)


def test_a_kill_between_two_scenes_is_safe() -> None:
    stage = Stage(changeover())
    for start, goal in (("one", "two"), ("two", "one")):
        for fate in FATES:
            for at in stage.boundaries(start, goal, [fate] * 6):
                stage.run(start, goal, [fate] * 6, kill_at=at).judged_at_last()


def fallen(studio: Studio, setting: Setting) -> dict[str, Value]:
    rest = {n: c.at_rest for n, c in studio.controls.items() if c.at_rest is not None}
    return {**setting, **rest}


def random_studio(seed: int) -> Studio:
    """Five switches and a relay on seven lines; the bed must never hear the talk."""
    rng, sketch = random.Random(seed), Sketch()
    switches = [switch(f"s{i}") for i in range(5)]
    for _ in range(7):
        gates = [gated(f"s{i}") for i in rng.sample(range(5), 2)]
        if rng.random() < 0.7:
            gates.append(gated("out", rng.choice(["rest", "pulled"])))
        start = "talk" if rng.random() < 0.5 else "mid"
        end = "bed" if rng.random() < 0.5 else "mid"
        sketch.edge(start, end, 0.0, 0.0, *gates)
    return sketch.studio(
        *switches,
        selector("out", "rest", "pulled", at_rest="rest"),
        sources=[sketch.source("talk", "talk")],
        listeners=[sketch.listener("bed", "bed")],
        sentences=[Sentence(Demand.NEVER, "bed", "talk", "bed never hears talk")],
    )


class Careless(Planner):
    """Plans for a service that never dies."""

    def _judge_for(self, belief: Belief, goal: Setting) -> Judge:
        return NoBurst(self._judge, belief, goal)


def unsafe_falls(planner: type[Planner]) -> tuple[int, int]:
    """Crossings judged by every subset of every leg, and how many may fall badly."""
    judged = unsafe = 0
    for seed in range(400):
        studio, rng = random_studio(seed), random.Random(seed)
        judge = HouseJudge(studio)
        start, goal = (
            {n: rng.choice(c.values) for n, c in studio.controls.items()}
            | {"out": "pulled"}
            for _ in range(2)
        )
        ends = (start, goal, fallen(studio, start), fallen(studio, goal))
        if any(judge.nevers_broken(known(end)) for end in ends):
            continue
        way = planner(judge)(known(start), goal)
        assert not isinstance(way, Refusal), "nevers alone never forbid a crossing"
        here, broken = dict(start), False
        for leg in way.legs:
            for count in range(len(leg.changes) + 1):
                for some in itertools.combinations(leg.changes, count):
                    there = here | {c.control: c.value for c in some}
                    fell = known(fallen(studio, there))
                    broken |= bool(judge.nevers_broken(fell))
            here |= leg.setting
        judged, unsafe = judged + 1, unsafe + broken
    return judged, unsafe


def test_every_subset_of_every_leg_may_fall() -> None:
    judged, unsafe = unsafe_falls(Planner)
    assert judged > 80
    assert unsafe == 0
    assert unsafe_falls(Careless)[1] > 5  # or nothing was there to be seen
