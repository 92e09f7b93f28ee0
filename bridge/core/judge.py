"""All rules together, judged on a belief; the one judge that planner and guard use.

Strategy: the loudest corner decides the never-rules, the quietest the keeps. A
selector has one position at a time, so where the corner with "every position at
once" breaks a rule the positions are tried one by one; that is exact, and seldom
needed (crossings: 0.4 % of the legs tried).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import product

from bridge.core.belief import Belief
from bridge.core.control import Kind
from bridge.core.demand import Demand, Waiver
from bridge.core.hearing import Bound, Hearing
from bridge.core.rules import (
    demands,
    howl,
    open_microphone,
    own_voice,
    sudden_level,
)
from bridge.core.rules.breach import Breach, Scope
from bridge.core.shorter import shorter
from bridge.core.studio import Studio
from bridge.core.wire import Value

MOST_POSITIONS = 64
"""Selector positions tried one by one; beyond this the loud corner stands (sound)."""

MOST_REMEMBERED = 4096
"""Judged beliefs kept; about 1 MB. A small studio has some hundreds."""

MOST_SCOPES = 512
"""Corners kept, some 10 kB each with what was asked of them."""

Verdict = Mapping[str, float]


class HouseJudge:
    """Judges beliefs about one studio. Holds caches, no other state."""

    def __init__(self, studio: Studio) -> None:
        self.studio = studio
        self.hearing = Hearing(studio.graph)
        self._sums = Hearing(shorter(studio.graph, _ends(studio)))
        self._scopes: dict[tuple[Bound, tuple[frozenset[Value], ...]], Scope] = {}
        self._names = tuple(studio.controls)
        self.cures: dict[tuple[object, ...], object] = {}  # kept by `core.cures`
        self._verdicts: dict[tuple[str, tuple[frozenset[Value], ...]], Verdict] = {}

    def nevers_broken(self, belief: Belief) -> Verdict:
        """Never-rule key -> harm, everything uncertain at its loudest."""
        return self._remembered("never", belief, self.never_breaches)

    def keeps_broken(self, belief: Belief) -> Verdict:
        """Keep-rule key -> harm, everything uncertain at its quietest."""
        return self._remembered("keep", belief, self.keep_breaches)

    def never_breaches(
        self, belief: Belief, scene: str | None = None
    ) -> tuple[Breach, ...]:
        """The broken never-rules, and with a scene its own never-sentences too."""
        return self.exact(belief, Bound.LOUDEST, lambda s: _nevers(s, scene))

    def keep_breaches(self, belief: Belief) -> tuple[Breach, ...]:
        """The keep-sentences that may not hold."""
        return self.exact(
            belief, Bound.QUIETEST, lambda s: demands.unheard(s, Demand.KEEP)
        )

    def need_breaches(self, belief: Belief, scene: str | None) -> tuple[Breach, ...]:
        """The need-sentences of this scene and of always that may not hold."""
        return self.exact(
            belief, Bound.QUIETEST, lambda s: demands.unheard(s, Demand.NEEDS, scene)
        )

    def scope(self, belief: Belief, bound: Bound) -> Scope:
        """One corner of the whole graph, every jack in it: to tell paths by."""
        return Scope(self.studio, self.hearing, self.hearing.corner(belief, bound))

    def sums(self, belief: Belief, bound: Bound) -> Scope:
        """The same corner of the shorter graph: to judge by, and quick."""
        key = (bound, tuple(belief[name] for name in self._names))
        found = self._scopes.get(key)
        if found is None:
            if len(self._scopes) >= MOST_SCOPES:
                self._scopes.clear()
            corner = self._sums.corner(belief, bound)
            found = self._scopes[key] = Scope(self.studio, self._sums, corner)
        return found

    def _remembered(
        self,
        kind: str,
        belief: Belief,
        judged: Callable[[Belief], Iterable[Breach]],
    ) -> Verdict:
        key = (kind, tuple(belief[name] for name in self._names))
        found = self._verdicts.get(key)
        if found is None:
            if len(self._verdicts) >= MOST_REMEMBERED:
                self._verdicts.clear()
            found = {breach.key: breach.harm for breach in judged(belief)}
            self._verdicts[key] = found
        return found

    def exact(
        self,
        belief: Belief,
        bound: Bound,
        rules: Callable[[Scope], Iterator[Breach]],
    ) -> tuple[Breach, ...]:
        """What these rules find at a corner, selectors in one position at a time."""
        breaches = self._held(rules(self.sums(belief, bound)))
        if not breaches:
            return ()
        beliefs = self._one_position_each(belief, bound)
        if beliefs is None:
            return breaches
        worst: dict[str, Breach] = {}
        for narrower in beliefs:
            for breach in self._held(rules(self.sums(narrower, bound))):
                known = worst.get(breach.key)
                if known is None or breach.harm > known.harm:
                    worst[breach.key] = breach
        return tuple(worst.values())

    def _held(self, breaches: Iterable[Breach]) -> tuple[Breach, ...]:
        """The breaches that no waiver of the studio covers."""
        waivers = self.studio.waivers
        return tuple(b for b in breaches if not any(covers(w, b) for w in waivers))

    def _one_position_each(self, belief: Belief, bound: Bound) -> list[Belief] | None:
        """The same belief for each choice of one position per unsure selector.

        One that overlaps has two positions for a moment, which is louder than either,
        and never none: so it is like any other where the quietest is asked for.
        """
        unsure = [
            name
            for name, control in self.studio.controls.items()
            if control.kind is Kind.SELECTOR
            and not (bound is Bound.LOUDEST and control.overlap)
            and len(belief[name]) > 1
        ]
        choices = 1
        for name in unsure:
            choices *= len(belief[name])
        if not unsure or choices > MOST_POSITIONS:
            return None
        return [
            {
                **belief,
                **{n: frozenset({v}) for n, v in zip(unsure, chosen, strict=True)},
            }
            for chosen in product(*(sorted(belief[n], key=str) for n in unsure))
        ]


def _ends(studio: Studio) -> frozenset[int]:
    """The nodes that rules ask about by number."""
    sources = [source.nodes for source in studio.sources]
    listeners = [listener.nodes for listener in studio.listeners]
    at_air = [gear.nodes for gear in studio.air_gear]
    return frozenset(n for nodes in (*sources, *listeners, *at_air) for n in nodes)


def covers(waiver: Waiver, breach: Breach) -> bool:
    """Whether a waiver is about this breach."""
    return waiver.rule == breach.rule and set(waiver.about) <= set(breach.people)


def _nevers(scope: Scope, scene: str | None) -> Iterator[Breach]:
    yield from howl.broken(scope)
    yield from own_voice.broken(scope)
    yield from demands.private_on_air(scope)
    yield from demands.never_broken(scope, scene)
    yield from sudden_level.over_cap(scope)
    if scope.studio.limits.strict_open_microphone:
        yield from open_microphone.broken(scope)
