"""What a helper was set to for a moment is taken back, whatever becomes of the way.

Two selectors cross (example B9 of the theory): one in the old and one in the new
position is forbidden, so `mute` helps out. No scene names `mute`, and `lamp` has
nothing to do with any of it: a press for it leaves the crossing half-way.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.core.demand import Demand, Sentence
from bridge.core.effects import Stop, Told, Wanted
from bridge.core.judge import HouseJudge
from bridge.core.plans import navigator_for
from bridge.core.rehearsal import Moment, Rehearsal
from bridge.core.studio import Studio
from bridge.core.table import State
from bridge.core.world import Change
from tests.core.sketch import Sketch, gated, selector, switch
from tests.fakes.over_osc import over_osc

LOST, LATE, WELL, TWICE = (), (0.049,), (0.001,), (0.001, 0.049)


def crossed() -> Studio:
    sketch = Sketch()
    sketch.edge("talk", "x", 0.0, 0.0, gated("open"))
    sketch.edge("x", "bed", 0.0, 0.0, gated("left", "a"), gated("right", "b"))
    sketch.edge("x", "bed", 0.0, 0.0, gated("left", "b"), gated("right", "a"))
    studio = sketch.studio(
        selector("left", "a", "b"),
        selector("right", "a", "b"),
        switch("open", at_power_up=True),
        switch("lamp"),
        sources=[sketch.source("talk", "talk")],
        listeners=[sketch.listener("bed", "bed")],
        scenes={
            "old": {"left": "a", "right": "a"},
            "new": {"left": "b", "right": "b"},
            "light": {"lamp": True},
        },
        sentences=[Sentence(Demand.NEVER, "bed", "talk", "bed never hears talk")],
    )
    return replace(over_osc(studio), helpers=(("open", False),))


STUDIO = crossed()
JUDGE = HouseJudge(STUDIO)
NAVIGATOR = navigator_for(JUDGE)


class Weather:
    """One fate for every packet of a while, then fair weather."""

    def __init__(self) -> None:
        self.fate: tuple[float, ...] = WELL

    def __call__(self) -> tuple[float, ...]:
        return self.fate


def at_rest() -> tuple[Rehearsal, Weather]:
    weather = Weather()
    played = Rehearsal(JUDGE, NAVIGATOR, weather)
    played.start()
    assert played.machine.scenes_in_force == ("old",)
    return played, weather


def moves(played: Rehearsal) -> list[tuple[str, object]]:
    changes = (m.what for m in played.moments)
    return [(c.control, c.value) for c in changes if isinstance(c, Change)]


def boundaries() -> list[float]:
    """Just before, at, and just after each moment of the undisturbed crossing."""
    played, _ = at_rest()
    begun, first = played.now, len(played.moments)
    played.happen(Wanted("new"))
    played.wait(2.0)
    moments: list[Moment] = played.moments[first:]
    times = sorted({moment.at - begun for moment in moments})
    return sorted({max(0.0, t + d) for t in times for d in (-1e-4, 0.0, 1e-4)})


def judged(played: Rehearsal) -> None:
    assert played.broke == []
    assert played.has_ended_well
    for name, values in played.machine.knowledge.belief.items():
        assert played.world.true[name] in values


def test_the_undisturbed_crossing_uses_the_helper() -> None:
    played, _ = at_rest()
    played.happen(Wanted("new"))
    played.wait(2.0)
    judged(played)
    assert [m for m in moves(played) if m[0] == "open"] == [
        ("open", False),
        ("open", True),
    ]


@pytest.mark.parametrize("newer", ["light", "old", "new"])
@pytest.mark.parametrize("fate", [WELL, LATE, TWICE, LOST])
def test_a_press_at_every_boundary_leaves_no_helper_behind(
    newer: str, fate: tuple[float, ...]
) -> None:
    helped = 0
    for at in boundaries():
        played, weather = at_rest()
        played.happen(Wanted("new"))
        played.wait(at)
        helped += not played.world.true["open"]
        weather.fate = fate
        played.happen(Wanted(newer))
        played.wait(0.12)
        weather.fate = WELL
        played.wait(3.0)
        judged(played)
        assert newer in played.machine.scenes_in_force, at
        assert played.world.true["open"] is True, at
        assert played.machine.knowledge.belief["open"] == {True}
    assert helped > 3


def test_a_crossing_given_up_for_want_of_answers_is_paid_by_the_next() -> None:
    for at in boundaries():
        played, weather = at_rest()
        played.happen(Wanted("new"))
        played.wait(at)
        weather.fate = LOST
        played.wait(3.0)
        weather.fate = WELL
        played.wait(12.0)
        played.happen(Wanted("light"))
        played.wait(2.0)
        judged(played)
        assert played.world.true["open"] is True, at


def test_a_stop_half_way_pays_too() -> None:
    for at in boundaries():
        played, _ = at_rest()
        played.happen(Wanted("new"))
        played.wait(at)
        played.happen(Stop())
        played.wait(3.0)
        judged(played)
        assert played.machine.state is State.STOPPED
        assert played.world.true["open"] is True, at


def left_in_the_middle() -> Rehearsal:
    """The helper is set, the crossing is given up, and nothing is asked for yet."""
    played, weather = at_rest()
    played.happen(Wanted("new"))
    while played.machine.knowledge.belief["open"] != {False}:
        played.wait(0.001)
    weather.fate = LOST
    played.wait(3.0)
    weather.fate = WELL
    assert played.machine.state is State.HALTED
    played.wait(12.0)
    return played


def test_what_a_hand_has_set_since_is_the_persons_own_wish() -> None:
    played = left_in_the_middle()
    played.hand("open", value=True)
    played.wait(1.0)
    played.hand("open", value=False)
    played.wait(1.0)
    played.happen(Wanted("light"))
    played.wait(2.0)
    judged(played)
    assert played.world.true["open"] is False


def test_what_is_owed_never_keeps_a_scene_from_being_reached() -> None:
    """From (a, b) the mute can not be taken back; a lamp can be lit all the same."""
    played = left_in_the_middle()
    played.hand("right", "b")
    played.hand("left", "a")
    played.wait(1.0)
    played.happen(Wanted("light"))
    played.wait(2.0)
    judged(played)
    assert "light" in played.machine.scenes_in_force
    assert played.world.true["open"] is False
    played.happen(Wanted("new"))
    played.wait(2.0)
    judged(played)
    assert played.world.true["open"] is True
    told = [m.what for m in played.moments if getattr(m.what, "told", None)]
    assert not [t for t in told if getattr(t, "told", None) is Told.ALARM]
