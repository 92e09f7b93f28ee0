"""Recalls: one message that sets several controls, in one instant or not."""

from __future__ import annotations

from dataclasses import replace

from bridge.core.belief import known
from bridge.core.control import Control, Kind
from bridge.core.crossing import plan
from bridge.core.graph import Edge, Graph, Node
from bridge.core.guard import refused_because
from bridge.core.leg import Crossing, Refusal
from bridge.core.loudness import loudness_of
from bridge.core.recall import Recall
from bridge.core.wire import Midi, Value
from tests.core.crossing_examples import bench
from tests.core.sketch import gated, switch
from tests.fakes.gain_judge import Bench, GainJudge, Limit
from tests.fakes.random_benches import (
    Change,
)


def messages(control: str, number: int) -> dict[Value, tuple[Midi, ...]]:
    return {
        False: (Midi("desk", bytes((0xB0, number, 0))),),
        True: (Midi("desk", bytes((0xB0, number, 127))),),
    }


def swap(*, keep: bool) -> Change:
    """a and b change places; both at once is too loud, and neither too quiet."""
    wanted = bench(
        "host recorder",
        [
            ("host", "recorder", gated("a")),
            ("host", "recorder", gated("b")),
            ("host", "recorder", gated("c")),
        ],
        [
            Control(name, name, "desk", Kind.SWITCH, (False, True), messages=sent)
            for name, sent in (
                ("a", messages("a", 1)),
                ("b", messages("b", 2)),
                ("c", messages("c", 3)),
            )
        ],
        never=[("recorder clips", "host", "recorder", 1.5)],
        keep=[("recorder hears host", "host", "recorder", 0.9)] if keep else [],
    )
    return Change(wanted, {"a": True, "b": False, "c": False}, {"a": False, "b": True})


PROGRAM = (Midi("desk", bytes((0xC0, 5))),)


def recalled(change: Change, *recalls: Recall) -> Crossing | Refusal:
    return plan(
        GainJudge(change.bench),
        change.bench.controls,
        known(change.start),
        change.goal,
        loudness=loudness_of(change.bench.graph),
        recalls=recalls,
    )


def test_a_recall_in_one_instant_needs_no_order() -> None:
    program = Recall("five", {"a": False, "b": True, "c": False}, PROGRAM, atomic=True)
    change = swap(keep=True)
    assert isinstance(recalled(change), Refusal)
    found = recalled(change, program)
    assert isinstance(found, Crossing)
    (leg,) = found.legs
    (step,) = leg.steps
    assert step.recall == program
    assert step.messages(change.bench.controls) == PROGRAM
    assert leg.setting == {"a": False, "b": True}
    assert leg.needs_instant
    judge = GainJudge(change.bench)
    for setting in (change.start, {**change.start, **change.goal}):
        assert not judge.nevers_broken(known(setting))
        assert not judge.keeps_broken(known(setting))
    # Mixtures would break a rule, so the guard has to be told of the instant.
    assert refused_because(judge, known(change.start), leg.in_flight)


def test_what_a_recall_brings_waits_for_the_cut_it_needs() -> None:
    """b and e together are too loud, so e goes first although the recall is instant."""
    change = swap(keep=True)
    nodes, edges = change.bench.graph.nodes, change.bench.graph.edges
    both = Edge(0, len(nodes), gates=(gated("b"), gated("e")))
    wanted = replace(
        change.bench,
        controls={**change.bench.controls, "e": switch("e")},
        graph=Graph((*nodes, Node("bed", "bed")), (*edges, both)),
        limits=(*change.bench.limits, Limit("b and e", 0, len(nodes), 0.0)),
    )
    start, goal = {**change.start, "e": True}, {**change.goal, "e": False}
    program = Recall("five", {"a": False, "b": True}, PROGRAM, atomic=True)
    found = recalled(Change(wanted, start, goal), program)
    assert isinstance(found, Crossing)
    assert [leg.setting for leg in found.legs] == [
        {"e": False},
        {"a": False, "b": True},
    ]


def test_a_recall_in_one_instant_saves_a_leg() -> None:
    program = Recall("five", {"a": False, "b": True}, PROGRAM, atomic=True)
    change = swap(keep=False)
    without, found = recalled(change), recalled(change, program)
    assert isinstance(without, Crossing)
    assert isinstance(found, Crossing)
    assert (len(without.legs), len(found.legs)) == (2, 1)


def test_a_recall_that_takes_its_time_is_not_trusted_with_an_order() -> None:
    program = Recall("five", {"a": False, "b": True}, PROGRAM, atomic=False)
    assert isinstance(recalled(swap(keep=True), program), Refusal)


def test_a_recall_that_sets_anything_else_is_not_used() -> None:
    program = Recall("five", {"a": False, "b": True, "c": True}, PROGRAM, atomic=True)
    assert isinstance(recalled(swap(keep=True), program), Refusal)


def test_a_recall_is_not_used_for_a_part_of_what_it_sets() -> None:
    """It would bring b in the leg in which a goes."""
    program = Recall("five", {"a": False, "b": True}, PROGRAM)
    found = recalled(swap(keep=False), program)
    assert isinstance(found, Crossing)
    assert [leg.setting for leg in found.legs] == [{"a": False}, {"b": True}]
    # In the second leg a is off for sure, and setting it off once more is harmless.
    assert [leg.steps[0].recall for leg in found.legs] == [None, program]


def test_a_recall_that_settles_late_is_used_for_several_controls_only() -> None:
    """One message for two is fewer; one for one is only slower."""
    change = swap(keep=False)
    program = Recall("five", {"a": False, "b": True}, PROGRAM, settle_ms=100.0)
    found = recalled(change, program)
    assert isinstance(found, Crossing)
    assert [leg.steps[0].recall for leg in found.legs] == [None, None]
    calm = Change(
        Bench(change.bench.controls, change.bench.graph), change.start, change.goal
    )
    found = recalled(calm, program)
    assert isinstance(found, Crossing)
    assert [step.recall for step in found.legs[0].steps] == [program]


def test_a_recall_is_no_way_for_a_level_that_goes_in_steps() -> None:
    bed = Control("bed", "bed", "desk", Kind.LEVEL, (-30.0, 0.0), rungs=(-20.0, -10.0))
    bed = replace(
        bed, messages={v: (Midi("desk", bytes((0xB0, 9, 9))),) for v in (-30.0, 0.0)}
    )
    change = swap(keep=False)
    calm = Change(
        Bench({**change.bench.controls, "bed": bed}, change.bench.graph),
        {**change.start, "bed": 0.0},
        {**change.goal, "bed": -30.0},
    )
    values = {"a": False, "b": True, "bed": -30.0}
    found = recalled(calm, Recall("five", values, PROGRAM, atomic=True))
    assert isinstance(found, Crossing)
    assert all(step.recall is None for leg in found.legs for step in leg.steps)
    near = replace(calm, start={**calm.start, "bed": -30.0}, goal=change.goal)
    found = recalled(near, Recall("five", values, PROGRAM, atomic=True))
    assert isinstance(found, Crossing)
    assert found.legs[0].steps[0].recall is not None


def test_of_equal_legs_the_least_time_on_the_wire_is_sent() -> None:
    """Three bytes each against two for both: the program change wins."""
    change = swap(keep=False)
    calm = Change(
        Bench(change.bench.controls, change.bench.graph), change.start, change.goal
    )
    cheap = Recall("five", {"a": False, "b": True, "c": False}, PROGRAM)
    dear = Recall("six", {"a": False, "b": True}, PROGRAM * 4)
    found = recalled(calm, dear, cheap)
    assert isinstance(found, Crossing)
    (leg,) = found.legs
    assert [step.recall for step in leg.steps] == [cheap]
    assert not leg.needs_instant
    single = recalled(calm, dear)
    assert isinstance(single, Crossing)
    assert [step.recall for step in single.legs[0].steps] == [None, None]
