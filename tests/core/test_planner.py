"""The house's planner: its rules, its memory, and the studio's helpers."""

from __future__ import annotations

from dataclasses import replace

from bridge.core.belief import known
from bridge.core.control import Control, Kind
from bridge.core.demand import Demand, Sentence
from bridge.core.graph import Gate
from bridge.core.judge import HouseJudge
from bridge.core.leg import Crossing, Refusal, Why
from bridge.core.planner import Planner
from bridge.core.studio import Studio
from tests.core.sketch import Sketch, gated, switch


def two_ways() -> Studio:
    """A recorder fed by one of two ways, behind a trim; it must not stop."""
    sketch = Sketch()
    sketch.edge("host", "a", 0.0, 0.0, gated("way a"))
    sketch.edge("host", "b", 0.0, 0.0, gated("way b"))
    sketch.edge("a", "bus")
    sketch.edge("b", "bus")
    sketch.edge("bus", "recorder", 0.0, 0.0, Gate("trim", None))
    keep = Sentence(Demand.KEEP, "recorder", "host", "recorder hears host")
    return sketch.studio(
        switch("way a"),
        switch("way b"),
        Control("trim", "trim", "desk", Kind.LEVEL, (-20.0, 0.0)),
        sources=[sketch.source("host", "host")],
        listeners=[sketch.listener("recorder", "recorder", far=True)],
        sentences=[keep],
    )


START = known({"way a": True, "way b": False, "trim": 0.0})
GOAL = {"way a": False, "way b": True}


def test_a_keep_and_a_burst_collide_where_nothing_helps() -> None:
    """Crossings, B6: both ways at once are 6 dB too loud, none at all is silence."""
    found = Planner(HouseJudge(two_ways()))(START, GOAL)
    assert isinstance(found, Refusal)
    assert set(found.rules) == {
        "must-keep-hearing: recorder hears host",
        "sudden-level: host, recorder",
    }


def test_a_helper_of_the_studio_lets_it_pass_and_is_undone() -> None:
    """Crossings, B6: trim down, b on, a off, trim up: four legs."""
    studio = replace(two_ways(), helpers=(("trim", -20.0),))
    found = Planner(HouseJudge(studio))(START, GOAL)
    assert isinstance(found, Crossing)
    steps = [
        [(change.control, change.value) for change in leg.changes] for leg in found.legs
    ]
    assert steps == [
        [("trim", -20.0)],
        [("way b", True)],
        [("way a", False)],
        [("trim", 0.0)],
    ]
    assert [leg.steps[0].why for leg in found.legs] == [
        Why.HELPER,
        Why.OPEN,
        Why.CUT,
        Why.UNDO,
    ]


def test_plans_are_remembered_by_belief_and_goal() -> None:
    planner = Planner(HouseJudge(two_ways()))
    assert not planner.remembers(START, GOAL)
    first = planner(START, GOAL)
    assert planner.remembers(START, GOAL)
    assert planner(START, GOAL) is first
    assert not planner.remembers(START, {"way b": True})
