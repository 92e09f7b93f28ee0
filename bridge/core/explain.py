"""From a broken rule to a finding: whose path, node by node, and the cure.

A breach is cheap and is made thousands of times while planning; a finding is for a
person and is made once.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import replace

from bridge.core.belief import Belief
from bridge.core.cures import cure, cure_words, value_words
from bridge.core.finding import Finding, Place, Severity
from bridge.core.graph import Edge, Scale
from bridge.core.hearing import Bound, Corner, factor, lanes_together
from bridge.core.judge import HouseJudge
from bridge.core.loops import loops
from bridge.core.rules import feedback, heard_twice
from bridge.core.rules.breach import Breach
from bridge.core.rules.demands import AIR, KEEP, NEEDS, PASCAL_DB_SPL, bleed_words
from bridge.core.rules.own_voice import RULE as OWN_VOICE
from bridge.core.rules.own_voice import SIDE_TONE_MS
from bridge.core.settings import in_force
from bridge.core.studio import Studio
from bridge.core.units import decibels, delay_words, gain_words, sound_words
from bridge.core.walks import Arrival

NO_MORE_DB = 1.0
"""What other ways may add to the one that is shown without a word of them."""

AS_BAD_AS_SHUT_DB = 20.0
"""The loss on a way that is held against it as much as a switch that is off."""

NO_WAY = 1000.0
"""The same for a loss without limit: more than there are switches on any way."""


def explain(
    judge: HouseJudge,
    belief: Belief,
    breach: Breach,
    *,
    where: str,
    place: Place | None = None,
) -> Finding:
    """The finding for one breach, with its path and a cure that was itself judged.

    The cure leaves nothing broken that the scenes in force ask for. where: the scene or
    crossing in words. place: the line to blame, unless the breach has a sentence of its
    own.
    """
    scenes = tuple(scene.name for scene in in_force(judge.studio, belief))
    mended = _to_connect(judge.studio, belief, breach)
    if not mended:
        mended = cure_words(judge.studio, cure(judge, belief, scenes))
    return told(judge, belief, breach, where=where, place=place, cure=mended)


def told(
    judge: HouseJudge,
    belief: Belief,
    breach: Breach,
    *,
    where: str,
    place: Place | None,
    cure: str,
) -> Finding:
    """The finding for one breach with its path, and a cure that is known already."""
    finding = finding_of(breach, where=where, place=place, cure=cure)
    path = evidence(judge, belief, breach)
    note = finding.note + bleed_words(breach, path)
    if breach.loop:
        note = feedback.words(judge.scope(belief, Bound.LOUDEST), breach.loop)
    return replace(finding, path=path, note=note)


def advise(
    judge: HouseJudge,
    belief: Belief,
    breach: Breach,
    *,
    where: str,
    place: Place | None = None,
) -> Finding:
    """The finding for advice: its path, but no cure is searched."""
    finding = finding_of(breach, where=where, place=place)
    path = evidence(judge, belief, breach)
    return replace(finding, severity=Severity.ADVICE, path=path)


def finding_of(
    breach: Breach, *, where: str = "", place: Place | None = None, cure: str = ""
) -> Finding:
    """What a breach says by itself, without the graph."""
    sentence = breach.sentence
    return Finding(
        rule=breach.rule,
        message=f"{where}: {breach.message}" if where else breach.message,
        place=place if sentence is None else sentence.place,
        where=where,
        people=breach.people,
        measured=breach.measured,
        limit=breach.limit,
        note="" if sentence is None else f'the file says "{sentence.text}"',
        cure=cure,
    )


def _to_connect(studio: Studio, belief: Belief, breach: Breach) -> str:
    """What to do where nothing leads from a source to who needs it; else nothing."""
    source, listener = breach.source, breach.listener
    if source is None or listener is None or breach.rule not in (NEEDS, KEEP):
        return ""
    if _shut_way(studio, belief, breach) is not None:
        return ""
    return (
        f"lead {source.name} to {listener.name}: with cables under patch:, and what a "
        "computer plays and takes under plays: and takes:"
    )


def evidence(judge: HouseJudge, belief: Belief, breach: Breach) -> tuple[str, ...]:
    """The loop, the path heard, or the way that is shut, one line an edge."""
    studio = judge.studio
    if breach.loop:
        corner = judge.scope(belief, Bound.LOUDEST).corner
        return _round(studio, _loop_edges(corner), corner, breach.harm)
    if breach.source is None or breach.listener is None:
        return ()
    if breach.rule in (NEEDS, KEEP):
        nothing = f"there is no way at all from {breach.source.name} to this listener"
        return _shut_way(studio, belief, breach) or (nothing,)
    scope = judge.scope(belief, Bound.LOUDEST)
    corner = scope.corner
    if breach.rule == heard_twice.RULE:
        pair = heard_twice.two_arrivals(scope, breach.source, breach.listener) or ()
        ways = zip(("one way:", "the other way:"), pair, strict=False)
        return tuple(
            line
            for way, path in ways
            for line in (way, *path_lines(studio, path, corner))
        )
    found = [
        path
        for node in breach.listener.nodes
        for path in lanes_together(
            studio.graph, corner.arrivals(breach.source.nodes, node).paths
        )
        if breach.rule != OWN_VOICE or path.delay_ms > SIDE_TONE_MS
    ]
    if not found:
        return ()
    loudest = max(found, key=lambda path: path.gain)
    gains = [path.gain for path in found if path.node == loudest.node]
    is_most = decibels(sum(gains) / loudest.gain) <= NO_MORE_DB
    more = "" if is_most else f"; the loudest of {len(gains)} ways"
    *lines, total = path_lines(studio, loudest, corner)
    return (*lines, total + more)


def path_lines(studio: Studio, path: Arrival, corner: Corner) -> tuple[str, ...]:
    """One arrival, edge by edge, and its sum."""
    ear = path.node in _ears(studio)
    level = _ear_words(path.gain) if ear else gain_words(decibels(path.gain))
    lanes = f" ({path.lanes} lanes together)" if path.lanes > 1 else ""
    total = f"in all {level}, {delay_words(path.delay_ms)}{lanes}"
    return (*_edge_lines(studio, path.edges, corner), total)


def _edge_lines(
    studio: Studio, edges: Sequence[int], corner: Corner
) -> tuple[str, ...]:
    gains = {flow.edge: flow.gain for flows in corner.out.values() for flow in flows}
    return tuple(_edge_line(studio, studio.graph.edges[e], gains[e]) for e in edges)


def _round(
    studio: Studio, edges: Sequence[int], corner: Corner, together: float
) -> tuple[str, ...]:
    """A loop edge by edge and its sum; together: with all that comes round too."""
    lines = _edge_lines(studio, edges, corner)
    gains = {flow.edge: flow.gain for flows in corner.out.values() for flow in flows}
    gain = decibels(math.prod(gains[edge] for edge in edges))
    delay = sum(studio.graph.edges[edge].delay_ms for edge in edges)
    last = f"once round {gain_words(gain)}, {delay_words(delay)}, on one lane"
    more = decibels(together)
    if gain + 0.1 < more < math.inf:
        last += f"; all lanes and ways together {gain_words(more)}"
    return (*lines, last)


def _edge_line(studio: Studio, edge: Edge, gain: float) -> str:
    nodes = studio.graph.nodes
    words = [f"{nodes[edge.source].jack} -> {nodes[edge.target].jack}"]
    if edge.target in _ears(studio):
        words.append(_ear_words(gain))
    elif abs(gain - 1.0) > 1e-6:
        words.append(gain_words(decibels(gain)))
    if edge.delay_ms:
        words.append(delay_words(edge.delay_ms))
    if edge.through_air:
        words.append(AIR)
    return "  ".join(words)


def _ears(studio: Studio) -> frozenset[int]:
    return frozenset(
        node
        for listener in studio.listeners
        if listener.scale is Scale.EAR
        for node in listener.nodes
    )


def _ear_words(gain: float) -> str:
    """An amplitude in pascal as a level at the ear."""
    return sound_words(decibels(gain) + PASCAL_DB_SPL)


def _loop_edges(corner: Corner) -> tuple[int, ...]:
    """The worst loop, every jack in it (a rule knows it by fewer nodes)."""
    loop = loops(corner.gains)[0].path
    edges = []
    for place, node in enumerate(loop):
        target = loop[(place + 1) % len(loop)]
        best = max(
            (flow for flow in corner.out[node] if flow.target == target),
            key=lambda flow: flow.gain,
        )
        edges.append(best.edge)
    return tuple(edges)


def _shut_way(studio: Studio, belief: Belief, breach: Breach) -> tuple[str, ...] | None:
    """The way with the fewest shut gates: what is there, and what shuts it; or None.

    Not through a leak that happens to have no gate: loss counts too.
    """
    assert breach.source is not None
    assert breach.listener is not None
    into: dict[int, list[int]] = {}
    for index, edge in enumerate(studio.graph.edges):
        into.setdefault(edge.source, []).append(index)
    goal = set(breach.listener.nodes)
    queue: list[tuple[tuple[float, int], int, tuple[int, ...]]] = [
        ((0.0, 0), node, ()) for node in breach.source.nodes
    ]
    seen: set[int] = set()
    while queue:
        (shut, length), node, trail = heapq.heappop(queue)
        if node in seen:
            continue
        seen.add(node)
        if node in goal:
            return tuple(_gate_line(studio, belief, e) for e in trail)
        for index in into.get(node, ()):
            edge = studio.graph.edges[index]
            closed = len(_closed(edge, belief))
            lost = min(max(0.0, -edge.gain_db) / AS_BAD_AS_SHUT_DB, NO_WAY)
            cost = (shut + closed + lost, length + 1)
            heapq.heappush(queue, (cost, edge.target, (*trail, index)))
    return None


def _closed(edge: Edge, belief: Belief) -> list[str]:
    return [
        gate.control
        for gate in edge.gates
        if min(factor(gate, v) for v in belief[gate.control]) == 0.0
    ]


def _gate_line(studio: Studio, belief: Belief, index: int) -> str:
    edge = studio.graph.edges[index]
    nodes = studio.graph.nodes
    line = f"{nodes[edge.source].jack} -> {nodes[edge.target].jack}"
    if edge.gain_db and edge.target not in _ears(studio):
        line += f"  {gain_words(edge.gain_db)}"
    shut = [
        f"{studio.controls[name].label} is "
        + " or ".join(sorted(value_words(v) for v in belief[name]))
        for name in dict.fromkeys(_closed(edge, belief))
    ]
    return f"{line}  shut: {', '.join(shut)}" if shut else line
