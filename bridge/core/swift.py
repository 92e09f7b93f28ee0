"""Crossings proved at a stroke, without planning them.

Why: a studio of two hundred scenes has forty thousand crossings; planning each takes
minutes, and what a check needs to know is only whether there is a safe order.

Theorem: if both ends hold all never-rules, cutting first and opening then keeps them
at every moment (all that sounds on the way sounds at one of the ends, since gains are
monotone in switches). A keep holds too if one way that carries it is left alone by the
crossing. So a crossing in which only plain switches move is safe in two legs at most.
The planner may still find one leg, or a way where this says nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.belief import Belief
from bridge.core.control import Control, Kind, Reach
from bridge.core.demand import Demand, Sentence
from bridge.core.hearing import Bound
from bridge.core.judge import HouseJudge
from bridge.core.loudness import loudness_of
from bridge.core.rules import demands
from bridge.core.settings import Reached
from bridge.core.wire import Value

Literals = frozenset[tuple[str, Value]]


@dataclass(frozen=True, slots=True)
class Stroke:
    """How many messages the two legs have; a leg without messages is none."""

    cuts: int
    opens: int

    @property
    def legs(self) -> int:
        """At most this many legs."""
        return (self.cuts > 0) + (self.opens > 0)


@dataclass(frozen=True, slots=True)
class _Seen:
    """One setting, ready to be compared: switches as bits, the rest as it is.

    louder: a bit for each plain switch at its louder value. others: all other
    controls. kept: for each keep that holds, the controls of one way that carries it.
    """

    louder: int
    others: tuple[frozenset[Value], ...]
    kept: dict[str, Literals]


class Swift:
    """Looks at each setting once, and at a pair of them in microseconds."""

    def __init__(self, judge: HouseJudge) -> None:
        self._judge = judge
        studio = judge.studio
        loudness = loudness_of(studio.graph)
        self._louder: dict[str, Value] = {}
        for name, control in studio.controls.items():
            if control.kind is Kind.SWITCH and control.reach is Reach.REMOTE:
                quiet = loudness.quietest(name, control.values)
                if quiet is not None:
                    (loud,) = [v for v in control.values if v != quiet]
                    self._louder[name] = loud
        self._others = [n for n in studio.controls if n not in self._louder]
        self._keeps = [s for s in studio.sentences if s.demand is Demand.KEEP]
        self._seen: dict[int, _Seen | None] = {}

    def stroke(self, start: Reached, end: Reached) -> Stroke | None:
        """The proof that start to end is safe, or None if this does not tell.

        Both ends must hold the never-rules.
        """
        one, other = self._look(start), self._look(end)
        if one is None or other is None or one.others != other.others:
            return None
        for text, way in one.kept.items():
            if text in other.kept and any(end.belief[n] != {v} for n, v in way):
                return None
        cuts, opens = one.louder & ~other.louder, other.louder & ~one.louder
        return Stroke(cuts.bit_count(), opens.bit_count())

    def from_unknown(self, end: Reached) -> Stroke | None:
        """The proof that a complete scene can be entered when nothing is known.

        Cutting makes nothing worse, and when the scene's cuts are in force the
        loudest that may be is the scene itself. None if other than switches move.
        """
        controls = self._judge.studio.controls
        if any(_may_move(controls[name]) for name in self._others):
            return None
        there = self._look(end)
        if there is None:
            return None
        opens = there.louder.bit_count()
        return Stroke(len(self._louder) - opens, opens)

    def _look(self, reached: Reached) -> _Seen | None:
        key = id(reached)
        if key not in self._seen:
            self._seen[key] = self._seen_of(reached.belief)
        return self._seen[key]

    def _seen_of(self, belief: Belief) -> _Seen | None:
        louder = 0
        for bit, (name, loud) in enumerate(self._louder.items()):
            values = belief[name]
            if len(values) != 1:
                return None
            louder |= (loud in values) << bit
        others = tuple(belief[name] for name in self._others)
        broken = {b.key for b in self._judge.keep_breaches(belief)}
        kept = {}
        for sentence in self._keeps:
            if f"{demands.KEEP}: {sentence.text}" not in broken:
                kept[sentence.text] = self._way(belief, sentence)
        return _Seen(louder, others, kept)

    def _way(self, belief: Belief, sentence: Sentence) -> Literals:
        """The controls, with their values, of the best path that keeps a sentence."""
        scope = self._judge.scope(belief, Bound.QUIETEST)
        source, listener = demands.parties(scope, sentence)
        paths = [
            path
            for node in listener.nodes
            for path in scope.corner.arrivals(source.nodes, node).paths
        ]
        best = max(paths, key=lambda path: path.gain)
        names = {
            gate.control
            for edge in best.edges
            for gate in self._judge.studio.graph.edges[edge].gates
        }
        return frozenset((name, value) for name in names for value in belief[name])


def _may_move(control: Control) -> bool:
    """Whether it is not just as the file says: a message or a hand moves it."""
    return control.reach is Reach.REMOTE or control.at_power_up is None
