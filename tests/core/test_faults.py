"""Every fault at every message boundary, on a small studio, by exhaustion.

The machine is the real one; gear, network and clock are imagined (`core.rehearsal`).
Each packet of a crossing, ours and the gear's, is let through, lost, late or doubled,
and they arrive in every order; the service is killed, or asked for something else, at
each moment at which anything happens. No state that truly is may break a never-rule;
every request is answered once; every run ends in a state that may last, with a belief
that holds the truth, and when the faults are over the belief is the truth.

TREADLE_TIMES=40 tries all pairs of faults with all presses and kills.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import TypeVar

import pytest

from bridge.core.control import Kind
from bridge.core.studio import Studio
from bridge.core.wire import Contact, Key, Meaning, Osc
from tests.core.test_proof import CALL, OFF, SPEAKERS, booth
from tests.fakes.times import TIMES
from tests.fakes.trial import FATES, LATE, LOST, TWICE, WELL, Fate, Stage, Trial, around

pytestmark = pytest.mark.long


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
STAGE = Stage(STUDIO)
PAIRS = list(itertools.permutations(("off", "call", "speakers"), 2))
PACKETS = 6
"""Of a crossing of the booth: two messages, two questions, two answers."""

OVER_THE_WIRE = [pair for pair in PAIRS if "call" in pair]
"""The other two only move the relay, by a contact."""

T = TypeVar("T")


def some(cases: Iterable[T], one_in: int) -> Iterator[T]:
    """Every so many-th of the cases; all of them, if TREADLE_TIMES is as large."""
    step = max(1, one_in // TIMES)
    return itertools.islice(cases, 0, None, step)


def one_fault() -> Iterator[list[Fate]]:
    """No fault, or one of the packets has one."""
    yield [WELL] * PACKETS
    for place in range(PACKETS):
        for fate in (LOST, LATE, TWICE):
            yield [WELL] * place + [fate]


def two_faults() -> Iterator[list[Fate]]:
    for first, second in itertools.combinations(range(PACKETS), 2):
        for fates in itertools.product((LOST, LATE, TWICE), repeat=2):
            found: list[Fate] = [WELL] * PACKETS
            found[first], found[second] = fates
            yield found


def all_one_fate() -> Iterator[list[Fate]]:
    for fate in FATES:
        yield [fate] * PACKETS


@pytest.mark.parametrize(("start", "goal"), PAIRS)
def test_every_fate_of_every_packet(start: str, goal: str) -> None:
    """All of them: four fates to the power of the packets of a crossing, six at most.

    A lost packet makes more of them; those are let through, so the goal is reached.
    """
    trial = STAGE.run(start, goal)
    packets = trial.script.packets
    trial.judged_at_last()
    assert packets in (0, PACKETS)
    for fates in itertools.product(FATES, repeat=packets):
        trial = STAGE.run(start, goal, fates)
        trial.judged()
        assert goal in trial.machine.scenes_in_force


@pytest.mark.parametrize(("start", "goal"), OVER_THE_WIRE)
def test_every_order_of_all_packets(start: str, goal: str) -> None:
    """Packet by packet a life of its own, from 1 to 49 ms, in all 720 ways."""
    lives = [(0.001 + 0.048 * n / (PACKETS - 1),) for n in range(PACKETS)]
    arrived = set()
    for fates in itertools.permutations(lives):
        trial = STAGE.run(start, goal, fates)
        trial.judged()
        assert goal in trial.machine.scenes_in_force
        arrived.add(tuple(change.control for change in trial.world.changes[-2:]))
    if {start, goal} == {"off", "call"}:
        assert len(arrived) == 2  # both messages of the leg, either first


@pytest.mark.parametrize(("start", "goal"), PAIRS)
def test_everything_lost_ends_honestly_and_safely(start: str, goal: str) -> None:
    trial = STAGE.run(start, goal, [LOST] * 500)
    trial.judged()
    assert trial.script.packets < 500
    by_contact_alone = {start, goal} == {"off", "speakers"}
    assert (goal in trial.machine.scenes_in_force) == by_contact_alone
    trial.judged_at_last()


def is_well_after_a_kill(trial: Trial, start: str, goal: str) -> None:
    """What the desk kept stays as it is; from there every scene can be had."""
    trial.judged_at_last()
    ends = [STAGE.values_in(start), STAGE.values_in(goal)]
    for name, value in trial.world.true.items():
        kept = {end[name] for end in ends} | {STUDIO.controls[name].at_rest}
        assert value in kept, (name, value)
    for scene in (goal, start):
        trial.want(scene)
        trial.wait(2.0)
        trial.judged()
        assert scene in trial.machine.scenes_in_force


@pytest.mark.parametrize(("start", "goal"), PAIRS)
def test_killed_at_every_boundary_of_every_disturbed_crossing(
    start: str, goal: str
) -> None:
    cases = [*all_one_fate(), *some(one_fault(), 4), *some(two_faults(), 40)]
    for fates in cases:
        for at in STAGE.boundaries(start, goal, fates):
            trial = STAGE.run(start, goal, fates, kill_at=at)
            is_well_after_a_kill(trial, start, goal)


@pytest.mark.parametrize(("start", "goal"), PAIRS)
def test_killed_again_at_every_boundary_of_the_recovery(start: str, goal: str) -> None:
    """With the answers of the gear lost, late and doubled while it recovers."""
    for at in some(STAGE.boundaries(start, goal), 8):
        for fate in FATES:
            trial = STAGE.arrived(start)
            trial.want(goal)
            trial.wait(at)
            trial.script.fates = [fate] * PACKETS
            kept, begun = STAGE.saved(trial), trial.now
            trial.times = []
            trial.kill(0.06)
            for again in some(around(t - begun - 0.06 for t in trial.times), 6):
                trial = STAGE.again(kept)
                trial.start_s = again
                trial.kill(0.06)
                trial.start_s = None
                trial.kill(0.06)
                is_well_after_a_kill(trial, start, goal)


@pytest.mark.parametrize(("start", "goal"), PAIRS)
@pytest.mark.parametrize("newer", ["off", "call", "speakers"])
def test_the_newest_press_wins_at_every_boundary(
    start: str, goal: str, newer: str
) -> None:
    for fates in [*all_one_fate(), *some(one_fault(), 6), *some(two_faults(), 90)]:
        for at in STAGE.boundaries(start, goal, fates):
            trial = STAGE.run(start, goal, fates, press_at=(at, newer))
            trial.judged()
            assert newer in trial.machine.scenes_in_force


@pytest.mark.parametrize(("start", "goal"), PAIRS)
@pytest.mark.parametrize("newer", ["off", "call", "speakers"])
def test_killed_after_a_newer_press(start: str, goal: str, newer: str) -> None:
    """Both at any boundary of the first crossing, or in the midst of the second."""
    for fates in some(one_fault(), 12):
        times = STAGE.boundaries(start, goal, fates)
        for press, kill in some(itertools.combinations(times, 2), 40):
            trial = STAGE.run(start, goal, fates, press_at=(press, newer), kill_at=kill)
            trial.judged_at_last()


@pytest.mark.parametrize(("start", "goal"), PAIRS)
def test_stopped_at_every_boundary(start: str, goal: str) -> None:
    """It ends in time, with every contact let go, or says why not."""
    for fates in all_one_fate():
        for at in STAGE.boundaries(start, goal, fates):
            trial = STAGE.arrived(start)
            trial.script.fates = list(fates)
            trial.want(goal)
            trial.wait(at)
            trial.stop()
            trial.judged()


@pytest.mark.parametrize(("start", "goal"), OVER_THE_WIRE)
@pytest.mark.parametrize("life_s", [0.06, 0.15, 0.4])
def test_a_packet_that_lives_longer_than_promised(
    start: str, goal: str, life_s: float
) -> None:
    """Within one crossing it does no harm, since no control gets a second value.

    After a second one nothing can be proved: what must be is that it is found out.
    """
    old: Fate = (0.001, life_s)
    for place in range(PACKETS):
        fates = [WELL] * place + [old]
        trial = STAGE.run(start, goal, fates)
        trial.judged_at_last()
        assert goal in trial.machine.scenes_in_force
        trial = STAGE.run(start, goal, fates, press_at=(life_s / 2, start))
        trial.broke.clear()
        found_out = {m.what for m in trial.moments}
        trial.wait(25.0)
        true = {n: {v} for n, v in trial.world.true.items()}
        assert trial.machine.knowledge.belief == true, found_out
