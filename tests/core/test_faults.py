"""Every fault at every message boundary, on a small studio, by exhaustion.

The machine is the real one; gear, network and clock are imagined (`core.rehearsal`).
Each packet of a crossing, ours and the gear's, is let through, lost, late or doubled;
the service is killed after each; a new press comes at each. No state that truly is may
break a never-rule, and every run ends in a state that may last, with a belief that
holds the truth.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import replace

import pytest

from bridge.core.belief import Belief
from bridge.core.crossing import Crossing
from bridge.core.effects import Wanted
from bridge.core.finding import Finding
from bridge.core.judge import HouseJudge
from bridge.core.leg import Leg
from bridge.core.plans import navigator_for
from bridge.core.rehearsal import Rehearsal
from bridge.core.studio import Kind, Scene, Studio
from bridge.core.wire import Contact, Key, Meaning, Osc, Value
from bridge.core.world import as_found
from tests.core.test_proof import CALL, OFF, SPEAKERS, booth

pytestmark = pytest.mark.long


LATE_S = 0.049
"""The longest a packet lives: just under the 50 ms of hold-off."""

WELL, LOST, LATE, TWICE = (0.001,), (), (LATE_S,), (0.001, LATE_S)
FATES = (WELL, LOST, LATE, TWICE)


def wired() -> Studio:
    """The booth of the proofs, its switches on a desk over OSC, `out` on a contact."""
    studio = booth(off=OFF, call=CALL, speakers={**SPEAKERS, "guest to monitor": False})
    controls = {}
    meanings: dict[Key, tuple[Meaning, ...]] = {}
    for name, control in studio.controls.items():
        if control.kind is Kind.SWITCH:
            address = "/" + name.replace(" ", "/")
            controls[name] = replace(
                control,
                messages={v: (Osc("desk", address, (int(v),)),) for v in (False, True)},
                ask=(Osc("desk", address),),
                settle_ms=2.0,
                hold_off_ms=50.0,
            )
            points = ((0.0, False), (1.0, True))
            meanings["desk", "osc", address] = (Meaning(name, points),)
        else:
            lines = {"phones": False, "speakers": True}
            controls[name] = replace(
                control,
                messages={v: (Contact("out", h),) for v, h in lines.items()},
                settle_ms=10.0,
                gap=True,
            )
    return replace(studio, controls=controls, meanings=meanings, door_port=1)


STUDIO = wired()
JUDGE = HouseJudge(STUDIO)
NAVIGATOR = navigator_for(JUDGE)
PAIRS = list(itertools.permutations(("off", "call", "speakers"), 2))


class Script:
    """The fates of the packets, one by one; well when they have run out."""

    def __init__(self) -> None:
        self.fates: list[tuple[float, ...]] = []
        self.packets = 0
        self.is_counting = False

    def __call__(self) -> tuple[float, ...]:
        if not self.is_counting:
            return WELL
        self.packets += 1
        return self.fates.pop(0) if self.fates else WELL


def arrived(start: str) -> tuple[Rehearsal, Script]:
    """A service at rest in a scene."""
    script = Script()
    played = Rehearsal(JUDGE, NAVIGATOR, script, as_found(STUDIO))
    played.start()
    played.happen(Wanted(start))
    played.wait(1.0)
    assert start in played.machine.scenes_in_force
    script.is_counting = True
    return played, script


def run(
    start: str,
    goal: str,
    fates: Iterable[tuple[float, ...]] = (),
    *,
    kill_at: float | None = None,
    press_at: tuple[float, str] | None = None,
) -> tuple[Rehearsal, Script]:
    played, script = arrived(start)
    script.fates = list(fates)
    played.happen(Wanted(goal))
    if press_at is not None:
        played.wait(press_at[0])
        played.happen(Wanted(press_at[1]))
    if kill_at is not None:
        played.wait(kill_at)
        played.kill(0.5)
    played.wait(3.0)
    return played, script


def as_in(scene: str) -> dict[str, Value]:
    """What truly is in a scene that was reached from the start."""
    played, _ = arrived(scene)
    return dict(played.world.true)


def judged(played: Rehearsal) -> None:
    """No rule was broken, the run has ended, and the truth is in the belief."""
    assert played.broke == []
    assert played.has_ended_well
    belief = played.machine.knowledge.belief
    for name, value in played.world.true.items():
        assert value in belief[name], (name, value, belief[name])


@pytest.mark.parametrize(("start", "goal"), PAIRS)
def test_every_fate_of_every_packet(start: str, goal: str) -> None:
    """All of them: four fates to the power of the packets of a crossing, six at most.

    A lost packet makes more of them; those are let through, so the goal is reached.
    """
    played, script = run(start, goal)
    judged(played)
    assert goal in played.machine.scenes_in_force
    assert script.packets <= 6
    for fates in itertools.product(FATES, repeat=script.packets):
        played, _ = run(start, goal, fates)
        judged(played)
        assert goal in played.machine.scenes_in_force


@pytest.mark.parametrize(("start", "goal"), PAIRS)
def test_everything_lost_ends_honestly_and_safely(start: str, goal: str) -> None:
    played, script = run(start, goal, [LOST] * 500)
    judged(played)
    assert script.packets < 500
    by_contact_alone = {start, goal} == {"off", "speakers"}
    assert (goal in played.machine.scenes_in_force) == by_contact_alone


def boundaries(start: str, goal: str) -> list[float]:
    """Just before and just after each moment at which something happens."""
    played, _ = arrived(start)
    begin, first = played.now, len(played.moments)
    played.happen(Wanted(goal))
    played.wait(3.0)
    times = sorted({moment.at - begin for moment in played.moments[first:]})
    return sorted({max(0.0, t + d) for t in times for d in (-1e-4, 0.0, 1e-4)})


@pytest.mark.parametrize(("start", "goal"), PAIRS)
@pytest.mark.parametrize("fate", FATES, ids=["well", "lost", "late", "twice"])
def test_killed_at_every_boundary_with_the_first_packets_in_every_fate(
    start: str, goal: str, fate: tuple[float, ...]
) -> None:
    """What the desk kept stays as it is; from there every scene can be had."""
    ends = [as_in(start), as_in(goal)]
    for at in boundaries(start, goal):
        played, _ = run(start, goal, [fate] * 4, kill_at=at)
        judged(played)
        for name, value in played.world.true.items():
            kept = {end[name] for end in ends} | {STUDIO.controls[name].at_rest}
            assert value in kept, (name, value)
        for scene in (goal, start):
            played.happen(Wanted(scene))
            played.wait(2.0)
            judged(played)
            assert scene in played.machine.scenes_in_force


@pytest.mark.parametrize(("start", "goal"), PAIRS)
@pytest.mark.parametrize("newer", ["off", "call", "speakers"])
def test_the_newest_press_wins_at_every_boundary(
    start: str, goal: str, newer: str
) -> None:
    for at in boundaries(start, goal):
        for fate in FATES:
            played, _ = run(start, goal, [fate] * 4, press_at=(at, newer))
            judged(played)
            assert newer in played.machine.scenes_in_force


def test_the_search_is_not_blind(monkeypatch: pytest.MonkeyPatch) -> None:
    """All changes in one leg, whatever the proof says: the search must find it."""
    real = navigator_for(JUDGE)

    def hasty(belief: Belief, scene: Scene) -> Crossing | Finding:
        way = real(belief, scene)
        if not isinstance(way, Crossing) or len(way.legs) < 2:
            return way
        steps = tuple(s for leg in reversed(way.legs) for s in leg.steps)
        return replace(way, legs=(Leg(steps, "hasty"),))

    monkeypatch.setattr("bridge.core.desk.refused_because", lambda *_: ())
    found = 0
    for start, goal in PAIRS:
        for fates in itertools.product((WELL, LATE), repeat=4):
            script = Script()
            played = Rehearsal(JUDGE, hasty, script, as_found(STUDIO))
            played.start()
            played.happen(Wanted(start))
            played.wait(1.0)
            script.is_counting, script.fates = True, list(fates)
            played.happen(Wanted(goal))
            played.wait(1.0)
            found += len(played.broke)
    assert found > 0
