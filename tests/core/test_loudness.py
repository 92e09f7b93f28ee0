"""What is a cut and what an open is read off the gates."""

from __future__ import annotations

from math import inf

import pytest

from bridge.core.control import NOWHERE
from bridge.core.graph import Edge, Gate, Graph, Node
from bridge.core.loudness import Direction, Loudness, loudness_of
from bridge.core.wire import Value
from tests.core.sketch import gated

MUTE = Gate("mute", ((False, 1.0), (True, 0.0)))
RELAY = [gated("relay", "rest"), gated("relay", "pulled")]


def gates(*every: Gate) -> Loudness:
    nodes = (Node("a", "a"), Node("b", "b"))
    return loudness_of(Graph(nodes, tuple(Edge(0, 1, gates=(g,)) for g in every)))


@pytest.mark.parametrize(
    ("gate", "before", "value", "expected"),
    [
        (gated("mic"), {False}, True, Direction.OPEN),
        (gated("mic"), {True}, False, Direction.CUT),
        (gated("mic"), {True, False}, True, Direction.OPEN),
        (gated("mic"), {True, False}, False, Direction.CUT),
        (MUTE, {False}, True, Direction.CUT),
        (MUTE, {True}, False, Direction.OPEN),
        (Gate("trim", None), {0.0}, -6.0, Direction.CUT),
        (Gate("trim", None), {-inf}, -6.0, Direction.OPEN),
        (Gate("trim", None), {-inf, 0.0}, -6.0, Direction.MOVE),
    ],
)
def test_one_gate(
    gate: Gate, before: set[Value], value: Value, expected: Direction
) -> None:
    assert gates(gate).direction(gate.control, before, value) is expected


def test_a_selector_moves() -> None:
    relay = gates(*RELAY)
    assert relay.direction("relay", {"rest"}, "pulled") is Direction.MOVE
    assert relay.quietest("relay", ("rest", "pulled")) is None
    assert relay.not_louder("relay", NOWHERE, "rest")
    assert not relay.not_louder("relay", "rest", NOWHERE)


def test_a_selector_that_only_stops_sound_is_a_cut() -> None:
    """A position that feeds nothing is quieter than one that feeds something."""
    feed = gates(gated("feed", "on air"))
    assert feed.direction("feed", {"on air"}, "nothing") is Direction.CUT
    assert feed.quietest("feed", ("on air", "nothing")) == "nothing"


def test_two_gates_that_disagree_make_a_move() -> None:
    both = gates(gated("sum"), Gate("sum", ((False, 1.0), (True, 0.5))))
    assert both.direction("sum", {False}, True) is Direction.MOVE


def test_a_control_that_gates_nothing_counts_as_a_cut() -> None:
    assert gates().direction("lamp", {False}, True) is Direction.CUT
