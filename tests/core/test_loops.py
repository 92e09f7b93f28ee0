"""Loops against published examples and closed forms."""

import math

import pytest

from bridge.core.loops import (
    Loop,
    Radius,
    gains_from,
    loop_gain,
    loop_gain_at,
    loops,
    spectral_radius,
    stable_below,
    strong_components,
    total_gain,
    worst_cycle,
)
from bridge.core.units import decibels
from tests.fakes.gain_graphs import Graph, graph_of


@pytest.mark.parametrize(
    ("rows", "radius"),
    [
        # Lay, Linear Algebra, sec. 2.6 (from memory) is the one of 0.764575; the
        # others are closed forms.
        ([[0.5, 0.4], [0.2, 0.3]], 0.7),
        ([[0.0, 0.5], [0.8, 0.0]], 0.632456),
        ([[0.0, 0.5, 0.0], [0.0, 0.0, 0.8], [0.9, 0.0, 0.0]], 0.711379),
        ([[1.0, 1.0], [1.0, 0.0]], 1.618034),
        ([[0.3] * 3] * 3, 0.9),
        ([[0.5, 0.4, 0.2], [0.2, 0.3, 0.1], [0.1, 0.1, 0.3]], 0.764575),
        ([[0.6, 0.5], [0.5, 0.6]], 1.1),
        ([[0.0]], 0.0),
        ([[0.0, 5.0], [0.0, 0.0]], 0.0),
    ],
)
def test_radius_of_known_matrices(rows: list[list[float]], radius: float) -> None:
    graph = graph_of(rows)
    assert spectral_radius(graph).high == pytest.approx(radius, abs=5e-7)
    assert stable_below(graph) is (radius < 1.0)
    assert stable_below(graph, radius + 1e-6)
    assert radius == 0.0 or not stable_below(graph, radius - 1e-6)


def test_known_inverse() -> None:
    # Example A, computed: inverse of I - C, and eigenvalue 0.7 = -3.0980 dB.
    graph = graph_of([[0.5, 0.4], [0.2, 0.3]])
    expected = [[2.5926, 1.4815], [0.7407, 1.8519]]
    for source, row in enumerate(expected):
        for target, gain in enumerate(row):
            assert total_gain(graph, source, target) == pytest.approx(gain, abs=5e-5)
    assert decibels(spectral_radius(graph).high) == pytest.approx(-3.0980, abs=5e-5)


def test_known_output_of_a_three_sector_economy() -> None:
    # Lay, Linear Algebra, sec. 2.6, from memory: demand (50, 30, 20) needs the output
    # (226, 119, 78), though the first row sums to 1.1. More digits computed.
    graph = graph_of([[0.5, 0.4, 0.2], [0.2, 0.3, 0.1], [0.1, 0.1, 0.3]])
    output = [
        sum(total_gain(graph, s, t) * d for t, d in enumerate((50.0, 30.0, 20.0)))
        for s in range(3)
    ]
    assert output == pytest.approx([225.926, 118.519, 77.778], abs=5e-4)


def test_margin_of_two_nodes_is_of_the_product_not_of_the_radius() -> None:
    # Example B, computed: loop product 0.4 = -7.9588 dB, twice the radius in dB.
    (loop,) = loops(graph_of([[0.0, 0.5], [0.8, 0.0]]))
    assert loop.margin_db == pytest.approx(7.9588, abs=5e-5)
    assert decibels(loop.radius.high) == pytest.approx(-3.9794, abs=5e-5)
    assert loop.path == (0, 1)
    assert loop.path_gain == pytest.approx(0.4)


def test_margin_of_three_nodes() -> None:
    # Example C, computed: product 0.36.
    graph = graph_of([[0.0, 0.5, 0.0], [0.0, 0.0, 0.8], [0.9, 0.0, 0.0]])
    assert loop_gain(graph) == pytest.approx(0.36)
    assert worst_cycle(graph) == (0, 1, 2)


def test_loops_that_add_up_to_a_howl() -> None:
    # Example G, computed: no gain reaches 1, and no cycle does, but their sum does.
    (loop,) = loops(graph_of([[0.6, 0.5], [0.5, 0.6]]))
    assert loop.path_gain == pytest.approx(0.6)
    assert loop.gain == pytest.approx(0.6 + 0.25 / 0.4)
    assert loop.margin_db < 0.0
    assert total_gain({0: {0: 0.6, 1: 0.5}, 1: {0: 0.5, 1: 0.6}}, 0, 1) == math.inf


@pytest.mark.parametrize("microphones", [1, 2, 3, 8, 20])
def test_microphones_on_one_speaker_add_as_amplitudes(microphones: int) -> None:
    # Worst case (Perron), computed: N equal microphones lose 20 log N; the
    # handbooks' 10 log N is for powers and is in bridge.core.rooms.
    speaker, gain = 0, 0.01
    graph: Graph = {speaker: {}}
    for microphone in range(1, microphones + 1):
        graph[speaker][microphone] = gain
        graph[microphone] = {speaker: 1.0}
    (one,) = loops({0: {1: gain}, 1: {0: 1.0}})
    (all_of_them,) = loops(graph)
    lost_db = one.margin_db - all_of_them.margin_db
    assert lost_db == pytest.approx(20.0 * math.log10(microphones), abs=1e-9)


def test_one_hand_on_both_lanes_has_less_room() -> None:
    # Two microphones, two speakers, every way 0.2: a hand on the master meets
    # 4 x 0.2; on one speaker it meets 0.4 / (1 - 0.4). Computed by hand.
    microphones, speakers = (0, 1), (2, 3)
    graph = {m: dict.fromkeys(speakers, 1.0) for m in microphones}
    graph |= {s: dict.fromkeys(microphones, 0.2) for s in speakers}
    assert loop_gain(graph) == pytest.approx(2.0 / 3.0)
    assert loop_gain_at(graph, speakers) == pytest.approx(0.8)
    assert loop_gain_at(graph, microphones) == pytest.approx(0.8)


def test_a_howl_that_no_single_node_can_stop() -> None:
    graph = {0: {0: 1.5, 1: 0.1}, 1: {1: 1.5, 0: 0.1}}
    assert loop_gain(graph) == math.inf
    assert loops(graph)[0].margin_db == -math.inf
    assert loop_gain_at(graph, [0]) == math.inf
    assert loop_gain_at(graph, [0, 1]) == pytest.approx(1.6)


def test_nothing_goes_round() -> None:
    graph = {0: {1: 30.0}, 1: {2: 30.0, 3: 0.0}}
    assert loops(graph) == ()
    assert worst_cycle(graph) == ()
    assert loop_gain(graph) == 0.0
    assert loop_gain_at(graph, [1]) == 0.0
    assert spectral_radius(graph) == Radius(0.0, 0.0)
    assert stable_below(graph, 1e-9)
    assert stable_below({})
    assert total_gain(graph, 0, 2) == 900.0
    assert total_gain(graph, 2, 0) == 0.0
    assert gains_from(graph, 2) == {2: 1.0}
    assert gains_from(graph, 9) == {9: 1.0}


def test_loops_come_worst_first() -> None:
    graph = {5: {5: 0.1, 6: 1.0}, 6: {7: 0.5}, 7: {6: 0.4}, 1: {1: 0.2}}
    found = loops(graph)
    assert [loop.members for loop in found] == [(1,), (6, 7), (5,)]
    assert found[0] == Loop(
        members=(1,),
        gain=0.2,
        radius=spectral_radius({1: {1: 0.2}}),
        path=(1,),
        path_gain=0.2,
    )


def test_a_howl_spoils_only_what_lies_behind_it() -> None:
    graph = {0: {1: 0.5, 3: 0.5}, 1: {2: 1.0}, 2: {1: 1.0, 4: 0.5}, 5: {1: 1.0}}
    assert gains_from(graph, 0) == {
        0: 1.0,
        1: math.inf,
        2: math.inf,
        3: 0.5,
        4: math.inf,
    }
    # A second loop behind the first gets no finite figure either.
    graph[4] = {4: 0.5}
    assert total_gain(graph, 5, 4) == math.inf


def test_long_chains_and_rings_need_no_recursion() -> None:
    length = 3000
    chain = {n: {n + 1: 1.0} for n in range(length)}
    assert total_gain(chain, 0, length) == 1.0
    chain[length] = {0: 0.25}
    assert loop_gain(chain) == pytest.approx(0.25)
    assert total_gain(chain, 0, length) == pytest.approx(1.0 / 0.75)


def test_quiet_loops_keep_their_digits() -> None:
    # 1 - 1e-15 would keep none: the loop gain is never taken from that difference.
    graph = {0: {1: 1e-9}, 1: {0: 3e-9}}
    assert loop_gain(graph) == pytest.approx(3e-18, rel=1e-12)
    assert spectral_radius(graph).high == pytest.approx(math.sqrt(3) * 1e-9, rel=1e-8)


@pytest.mark.parametrize("gain", [-0.1, math.nan, math.inf])
def test_what_is_no_amplitude_is_refused(gain: float) -> None:
    words = f"gain from 3 to 4 must be finite and 0 or more, got {gain}"
    for ask in (strong_components, spectral_radius, stable_below, loop_gain, loops):
        with pytest.raises(ValueError, match=words):
            ask({3: {4: gain}})
    with pytest.raises(ValueError, match=words):
        gains_from({3: {4: gain}}, 3)


@pytest.mark.parametrize("limit", [0.0, -1.0, math.nan])
def test_a_limit_of_nothing_is_refused(limit: float) -> None:
    with pytest.raises(ValueError, match=f"limit must be above 0, got {limit}"):
        stable_below({}, limit)
