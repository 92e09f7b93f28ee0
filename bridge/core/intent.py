"""Intent: from "who should hear what" to the setting with the fewest open switches.

Strategy: a wish (this listener hears that source) is met by one way through the
graph, and a way needs certain values of certain controls. Choose a way for every wish
so that no control needs two values; leave every other control at its quietest. All
never-rules are monotone, so a choice that breaks one with everything else shut breaks
it with more open too, and the search may turn back there: branch and bound, exact.

An intent is exact: a listener that is named hears what is listed and, but for their
own voice and what is too weak to be audible, nothing else.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import product

from bridge.core.belief import Belief, Setting, known
from bridge.core.control import NOWHERE, Control, Kind, Reach
from bridge.core.graph import Listener
from bridge.core.hearing import Bound, factor
from bridge.core.judge import HouseJudge
from bridge.core.kin import meant_for
from bridge.core.rules.demands import audible_db
from bridge.core.rules.sudden_level import levels
from bridge.core.separation import separating
from bridge.core.studio import Studio
from bridge.core.units import amplitude
from bridge.core.ways import TooMany, Way, nominal, ways
from bridge.core.wire import Value

MOST_LOOKS = 20_000
"""Settings judged before the search gives up and says so; seconds of work."""

Wish = tuple[str, str]
"""Listener and source."""

Rank = tuple[int, int, tuple[str, ...]]
"""Hand controls moved, switches opened, and which: smaller is better."""


@dataclass(frozen=True, slots=True)
class Intent:
    """What each named listener should hear, and on which gear a person listens.

    hears: listener name -> source names. listening_on: person -> air gear name.
    given: controls that have a value already, whatever it costs.
    """

    hears: Mapping[str, tuple[str, ...]]
    listening_on: Mapping[str, str]
    given: Setting = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Found:
    """The setting, and which switches it opens (full control names, sorted)."""

    setting: Setting
    opened: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Impossible:
    """No setting does it. wishes: a smallest set of wishes that cannot all be met.

    because: rule keys or clashes that stopped the search, most frequent first.
    given_up: the search hit its limit, so this is no proof.
    apart: what would let all wishes be met, a sentence each, as far as can be said.
    """

    wishes: tuple[Wish, ...]
    because: tuple[str, ...]
    given_up: bool = False
    apart: tuple[str, ...] = ()


def solve(judge: HouseJudge, intent: Intent) -> Found | Impossible:
    """The setting with the fewest open switches that does what is asked, or why not."""
    wishes = tuple((who, what) for who, named in intent.hears.items() for what in named)
    search = _Search(judge, intent, wishes)
    found = search.best()
    if found is not None:
        return found
    if search.given_up:
        return Impossible(wishes, search.reasons(), given_up=True)
    kept = list(wishes)
    for wish in wishes:
        fewer = tuple(w for w in kept if w != wish)
        less = _Search(judge, intent, fewer)
        if less.best() is None:
            kept.remove(wish)
            search = less
    apart = separating(judge, (*kept, *search.unwanted), search.broken)
    return Impossible(tuple(kept), search.reasons(), apart=apart)


class _Search:
    """One branch and bound; over when `best` returns."""

    def __init__(
        self, judge: HouseJudge, intent: Intent, wishes: tuple[Wish, ...]
    ) -> None:
        self._judge = judge
        self._intent = intent
        self._studio = judge.studio
        self._looks = 0
        self._stopped: Counter[str] = Counter()
        self._best: tuple[Rank, Setting] | None = None
        self.broken: dict[str, Belief] = {}  # each rule met, and where first
        self.unwanted: dict[Wish, None] = {}  # what somebody would hear too
        self.given_up = False
        choices = [(self._ways(wish), wish) for wish in wishes]
        self._choices = sorted(choices, key=lambda c: (len(c[0]), c[1]))
        self._shut = {
            name: quietest(self._studio, control)
            for name, control in self._studio.controls.items()
        }

    def best(self) -> Found | None:
        """The best setting; None if there is none (or the search gave up)."""
        self._choose(0, self._intent.given)
        if self._best is None:
            return None
        (_, _, opened), setting = self._best
        return Found(setting, opened)

    def reasons(self) -> tuple[str, ...]:
        """What stopped the search, most frequent first."""
        return tuple(key for key, _ in self._stopped.most_common(5))

    def _listener(self, name: str) -> Listener:
        return next(x for x in self._studio.listeners if x.name == name)

    def _ways(self, wish: Wish) -> tuple[Way, ...]:
        who, what = wish
        listener = self._listener(who)
        source = next(s for s in self._studio.sources if s.name == what)
        through = None
        if who in self._intent.listening_on:
            gear = self._intent.listening_on[who]
            through = frozenset(
                n for g in self._studio.air_gear if g.name == gear for n in g.nodes
            )
        floor = amplitude(audible_db(self._studio, listener))
        goals = frozenset(listener.nodes)
        try:
            found = ways(
                self._studio, source.nodes, goals, through=through, at_least=floor
            )
        except TooMany:
            self.given_up = True
            return ()
        if not found:
            self._stopped[f"there is no way from {what} to {who}"] += 1
        return found

    def _choose(self, depth: int, asked: Mapping[str, Value]) -> None:
        if self._best is not None and self._rank(asked) >= self._best[0]:
            return
        if not self._allowed({**self._shut, **asked}):
            return
        if depth == len(self._choices):
            self._finish(asked)
            return
        found, (who, what) = self._choices[depth]
        for way in found:
            more = dict(asked)
            if all(more.setdefault(name, value) == value for name, value in way):
                self._choose(depth + 1, more)
            else:
                self._stopped[f"{who} hears {what} only by a control in use"] += 1

    def _finish(self, asked: Mapping[str, Value]) -> None:
        """Give every selector that nobody asked for a position that is allowed."""
        free = [
            name
            for name, value in self._shut.items()
            if value == NOWHERE and name not in asked
        ]
        for chosen in product(*(resting_first(self._studio.controls[n]) for n in free)):
            setting = {**self._shut, **asked, **dict(zip(free, chosen, strict=True))}
            if self._allowed(setting):
                self._best = (self._rank(asked), setting)
                return

    def _rank(self, asked: Mapping[str, Value]) -> Rank:
        controls = self._studio.controls
        opened = tuple(
            sorted(
                name
                for name, value in asked.items()
                if controls[name].kind is Kind.SWITCH and value != self._shut[name]
            )
        )
        by_hand = sum(
            controls[n].reach is Reach.HAND and value != controls[n].at_power_up
            for n, value in asked.items()
        )
        return by_hand, len(opened), opened

    def _allowed(self, setting: Setting) -> bool:
        self._looks += 1
        if self._looks > MOST_LOOKS:
            self.given_up = True
            return False
        belief = known(setting)
        broken = self._judge.nevers_broken(belief)
        self._stopped.update(broken.keys())
        if broken:
            for key in broken:
                self.broken.setdefault(key, belief)
            return False
        heard = levels(self._judge.sums(belief, Bound.LOUDEST))
        for who, wanted in self._intent.hears.items():
            listener = self._listener(who)
            audible = amplitude(audible_db(self._studio, listener))
            meant = meant_for(self._studio, listener, wanted)
            for source in self._studio.sources:
                loud = heard.get((source.name, who), 0.0) >= audible
                if loud and source.name not in meant:
                    self._stopped[f"{who} would hear {source.name} too"] += 1
                    self.unwanted[who, source.name] = None
                    return False
        return True


def quietest(studio: Studio, control: Control) -> Value:
    """The value at which least gets through; a selector is nowhere."""
    if control.reach is Reach.FIXED and control.at_power_up is not None:
        return control.at_power_up
    if control.kind is Kind.SELECTOR:
        return NOWHERE
    if control.kind is Kind.LEVEL:
        return nominal(control)
    gates = {
        gate
        for edge in studio.graph.edges
        for gate in edge.gates
        if gate.control == control.name
    }
    return min(control.values, key=lambda v: (sum(factor(g, v) for g in gates), str(v)))


def resting_first(control: Control) -> tuple[Value, ...]:
    """A selector's positions, the one at rest or at power-up first."""
    first = control.at_rest if control.at_rest is not None else control.at_power_up
    return tuple(sorted(control.values, key=lambda v: (v != first, str(v))))
