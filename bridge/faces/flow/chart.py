"""From a studio and a belief to what there is to draw.

Strategy: the lanes of a jack are one jack, and gear that does not lead sound through
itself (a computer plays here and takes there; a person speaks and hears) falls apart
into a box at the left and a box at the right. So nearly every cable runs to the
right, and what runs back is sound through the air.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from bridge.core.belief import Belief
from bridge.core.graph import Edge, Scale
from bridge.core.hearing import Bound, Corner, factor
from bridge.core.judge import HouseJudge
from bridge.core.rules.demands import audible_db
from bridge.core.studio import Studio
from bridge.core.units import OFF, decibels
from bridge.faces.flow.cuts import protecting
from bridge.faces.flow.model import Box, Chart, Jack, Join, Light, Run, Side

AIR_FLOOR_DB = -40.0
"""Leaks through the air weaker than this are not drawn, only reckoned with; at an ear,
those that nobody hears."""

BOTH_LANES_DB = 6.0
"""Two lanes of one sound together, at most: a run is drawn for both."""


def chart(judge: HouseJudge, belief: Belief, title: str) -> Chart:
    """The flow of a studio in one belief."""
    return _Maker(judge, belief).chart(title)


class _Maker:
    """Reads the studio's graph once, with both corners of a belief."""

    def __init__(self, judge: HouseJudge, belief: Belief) -> None:
        self._studio = judge.studio
        self._belief = belief
        self._loud = judge.scope(belief, Bound.LOUDEST).corner
        self._quiet = judge.scope(belief, Bound.QUIETEST).corner
        self._heard = _on_the_way(self._studio, self._loud)
        self._surely = _on_the_way(self._studio, self._quiet)
        self._people = {person.name for person in self._studio.people}
        self._audible = {
            node: audible_db(self._studio, listener) - BOTH_LANES_DB
            for listener in self._studio.listeners
            if listener.scale is Scale.EAR
            for node in listener.nodes
        }
        self._inner: dict[int, list[int]] = {}
        self._outer: list[int] = []
        for index, edge in enumerate(self._studio.graph.edges):
            if not edge.through_air and self._owner(edge.source) == self._owner(
                edge.target
            ):
                self._inner.setdefault(edge.source, []).append(index)
            else:
                self._outer.append(index)
        self._gains = _gains(self._loud)
        self._guards = protecting(judge, belief)

    def chart(self, title: str) -> Chart:
        """Put boxes and runs together."""
        runs = tuple(self._runs())
        boxes = tuple(self._boxes(runs))
        used = {join.guard for box in boxes for join in box.joins}
        guards = tuple(g.words for n, g in enumerate(self._guards, 1) if n in used)
        return Chart(title, _renumbered(boxes), runs, guards)

    # Cables and air

    def _runs(self) -> Iterator[Run]:
        grouped: dict[tuple[str, str], list[int]] = {}
        for index in self._outer:
            edge = self._studio.graph.edges[index]
            if edge.through_air and edge.gain_db < self._floor(edge):
                continue
            grouped.setdefault(
                (self._jack(edge.source), self._jack(edge.target)), []
            ).append(index)
        for (source, target), edges in grouped.items():
            first = self._studio.graph.edges[edges[0]]
            yield Run(
                source,
                target,
                max((self._edge_light(e) for e in edges), key=_RANK.__getitem__),
                first.through_air and not self._is_at_the_ear(first),
                first.gain_db,
            )

    def _floor(self, edge: Edge) -> float:
        return self._audible.get(edge.target, AIR_FLOOR_DB)

    def _is_at_the_ear(self, edge: Edge) -> bool:
        """Mouth to the microphone in front of it, ear in its headphones."""
        names = {self._owner(edge.source), self._owner(edge.target)}
        return bool(names & self._people)

    def _edge_light(self, index: int) -> Light:
        edge = self._studio.graph.edges[index]
        if index not in self._gains or not {edge.source, edge.target} <= self._heard:
            return Light.DARK
        sure = {edge.source, edge.target} <= self._surely
        return Light.LIT if sure else Light.PERHAPS

    # Boxes

    def _boxes(self, runs: Sequence[Run]) -> Iterator[Box]:
        incoming = dict.fromkeys(run.target for run in runs)
        outgoing = dict.fromkeys(run.source for run in runs)
        order = dict.fromkeys(node.jack for node in self._studio.graph.nodes)
        owners = dict.fromkeys(_owner(jack) for jack in order)
        for owner in owners:
            mine = [jack for jack in order if _owner(jack) == owner]
            ins = [jack for jack in mine if jack in incoming]
            outs = [jack for jack in mine if jack in outgoing]
            both = [jack for jack in ins if jack in outgoing]
            yield from self._passages(owner, both, runs)
            rest_in = [jack for jack in ins if jack not in both]
            rest_out = [jack for jack in outs if jack not in both]
            yield from self._split(owner, rest_in, rest_out)

    def _passages(
        self, owner: str, jacks: list[str], runs: Sequence[Run]
    ) -> Iterator[Box]:
        """What a computer plays for programs, and what programs take from it."""
        taken = {run.source for run in runs if self._is_end(run.target)}
        for words, part in (
            ("plays", [jack for jack in jacks if jack not in taken]),
            ("takes", [jack for jack in jacks if jack in taken]),
        ):
            if part:
                shown = tuple(self._shown(jack, ()) for jack in part)
                name = f"{owner}/{words}"
                yield Box(name, f"{owner} {words}", Side.THROUGH, shown, shown, ())

    def _is_end(self, jack: str) -> bool:
        owner = _owner(jack)
        return owner in self._people or owner == jack

    def _split(self, owner: str, ins: list[str], outs: list[str]) -> Iterator[Box]:
        pairs = [] if owner in self._people else [(i, o) for i in ins for o in outs]
        joins = [j for i, o in pairs if (j := self._join(i, o)) is not None]
        led_in = {join.source for join in joins}
        led_out = {join.target for join in joins}
        nothing: set[str] = set()
        parts = (
            (Side.THROUGH, led_in, led_out),
            (Side.SOURCE, nothing, set(outs) - led_out),
            (Side.SINK, set(ins) - led_in, nothing),
        )
        for side, in_part, out_part in parts:
            if in_part or out_part:
                yield Box(
                    f"{owner}/{side.value}",
                    self._title(owner, side),
                    side,
                    tuple(self._shown(j, joins) for j in ins if j in in_part),
                    tuple(self._shown(j, joins) for j in outs if j in out_part),
                    tuple(joins) if side is Side.THROUGH else (),
                )

    def _title(self, owner: str, side: Side) -> str:
        if owner not in self._people:
            return owner
        return f"{owner} speaks" if side is Side.SOURCE else f"{owner} hears"

    def _shown(self, jack: str, joins: Sequence[Join]) -> Jack:
        nodes = [i for i, n in enumerate(self._studio.graph.nodes) if n.jack == jack]
        light = Light.DARK
        if any(node in self._heard for node in nodes):
            sure = any(node in self._surely for node in nodes)
            light = Light.LIT if sure else Light.PERHAPS
        return Jack(jack, jack.partition(".")[2], light, self._level(jack, joins))

    def _level(self, jack: str, joins: Sequence[Join]) -> float:
        """The level of an input's row, or of an output's rail, where it is one."""
        rows = [j for j in joins if j.source == jack and j.is_open]
        rails = [j for j in joins if j.target == jack and j.is_open]
        row = {round(self._best(j.source, j.target)[0], 1) for j in rows}
        if rows:
            several = len({j.target for j in joins if j.source == jack}) > 1
            alone = len({j.source for j in joins}) == 1
            return row.pop() if len(row) == 1 and not (several and alone) else 0.0
        rail = {round(self._best(j.source, j.target)[0], 1) for j in rails}
        alone = len({j.source for j in joins}) == 1
        return rail.pop() if len(rail) == 1 and alone and len(joins) > 1 else 0.0

    # Inside a box

    def _join(self, source: str, target: str) -> Join | None:
        ways = list(self._ways(source, target))
        if not ways:
            return None
        gated = any(self._studio.graph.edges[e].gates for way in ways for e in way)
        live = [way for way in ways if all(e in self._gains for e in way)]
        if not live:
            shut = min((self._shut(way) for way in ways), key=len)
            labels = tuple(self._studio.controls[name].label for name in shut)
            guard = next(
                (n for n, g in enumerate(self._guards, 1) if g.control in shut), 0
            )
            return Join(source, target, Light.DARK, labels, guard, is_open=False)
        lights = [
            min(map(self._edge_light, way), key=_RANK.__getitem__) for way in live
        ]
        light = max(lights, key=_RANK.__getitem__)
        return Join(source, target, light, is_gated=gated)

    def _best(self, source: str, target: str) -> tuple[float, tuple[int, ...]]:
        """The loudest way between two jacks: its gain in dB, and its edges."""
        found: tuple[float, tuple[int, ...]] = (OFF, ())
        for way in self._ways(source, target):
            if all(e in self._gains for e in way):
                gain = sum((decibels(self._gains[e]) for e in way), 0.0)
                found = max(found, (gain, way))
        return found

    def _shut(self, way: Sequence[int]) -> tuple[str, ...]:
        return tuple(
            dict.fromkeys(
                gate.control
                for index in way
                for gate in self._studio.graph.edges[index].gates
                if max(factor(gate, v) for v in self._belief[gate.control]) == 0.0
            )
        )

    def _ways(self, source: str, target: str) -> Iterator[tuple[int, ...]]:
        """Every way inside gear between two jacks, gates shut or open."""
        starts = [i for i, n in enumerate(self._studio.graph.nodes) if n.jack == source]
        todo: list[tuple[int, tuple[int, ...]]] = [(node, ()) for node in starts]
        while todo:
            node, way = todo.pop()
            if way and self._jack(node) == target:
                yield way
                continue
            been = {self._studio.graph.edges[e].source for e in way}
            for index in self._inner.get(node, ()):
                onward = self._studio.graph.edges[index].target
                if onward not in been:
                    todo.append((onward, (*way, index)))

    def _jack(self, node: int) -> str:
        return self._studio.graph.nodes[node].jack

    def _owner(self, node: int) -> str:
        return _owner(self._jack(node))


_RANK = {Light.DARK: 0, Light.PERHAPS: 1, Light.LIT: 2}


def _owner(jack: str) -> str:
    return jack.partition(".")[0]


def _gains(corner: Corner) -> Mapping[int, float]:
    return {flow.edge: flow.gain for flows in corner.out.values() for flow in flows}


def _on_the_way(studio: Studio, corner: Corner) -> set[int]:
    """The nodes that sound passes on its way from any source to any listener."""
    sources: Iterable[int] = (n for s in studio.sources for n in s.nodes)
    ears: Iterable[int] = (n for listener in studio.listeners for n in listener.nodes)
    return corner.reached_from(sources) & corner.leading_to(ears)


def _renumbered(boxes: Sequence[Box]) -> tuple[Box, ...]:
    """Number the guards that are drawn 1, 2, 3 without gaps."""
    used = sorted({join.guard for box in boxes for join in box.joins} - {0})
    numbers = {0: 0} | {old: new for new, old in enumerate(used, 1)}
    return tuple(
        replace(
            box,
            joins=tuple(replace(j, guard=numbers[j.guard]) for j in box.joins),
        )
        for box in boxes
    )
