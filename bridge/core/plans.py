"""Plans made before they are needed, so that a press does not wait for one."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterable

from bridge.core.belief import Belief, settled
from bridge.core.book import breaches_in
from bridge.core.control import Scene
from bridge.core.crossing import Crossing, Refusal
from bridge.core.explain import explain
from bridge.core.finding import Finding
from bridge.core.hand_notes import unsafe_step
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.wire import Value

Navigator = Callable[[Belief, Scene], Crossing | Finding]
"""Finds the way from a belief to a scene, or says why there is none."""

PLANS_KEPT = 256
"""Plans remembered: sixteen scenes from each of sixteen beliefs. A plan is about 2 kB;
the longest unused is forgotten first and costs one planning, not a wrong answer."""


_Key = tuple[str, bool, tuple[tuple[str, Value], ...], tuple[frozenset[Value], ...]]
"""Name, since findings speak of it; values, since helpers may be owed; belief."""


class Plans:
    """A navigator that remembers. The same belief and values give the same plan."""

    def __init__(self, navigator: Navigator, controls: Iterable[str]) -> None:
        self._navigator = navigator
        self._controls = tuple(controls)
        self._kept: OrderedDict[_Key, Crossing | Finding] = OrderedDict()

    def find(self, belief: Belief, scene: Scene) -> Crossing | Finding:
        """The way to the scene, made now unless it was made before."""
        key = self._key(belief, scene)
        found = self._kept.get(key)
        if found is None:
            found = self._navigator(belief, scene)
            self._kept[key] = found
            if len(self._kept) > PLANS_KEPT:
                self._kept.popitem(last=False)
        self._kept.move_to_end(key)
        return found

    def prepare(self, belief: Belief, scenes: Iterable[Scene]) -> bool:
        """Make the first plan that is missing; False if none was."""
        for scene in scenes:
            if self._key(belief, scene) not in self._kept:
                self.find(belief, scene)
                return True
        return False

    def _key(self, belief: Belief, scene: Scene) -> _Key:
        values = tuple(sorted(scene.values.items()))
        values_now = tuple(belief[name] for name in self._controls)
        return scene.name, scene.is_named, values, values_now


def navigator_for(judge: HouseJudge, planner: Planner | None = None) -> Navigator:
    """The house's navigator: the scene must be allowed, then a safe way be found.

    planner: one that has planned for this judge before and remembers it.
    """
    planner = planner or Planner(judge)

    def found(belief: Belief, scene: Scene) -> Crossing | Finding:
        refusal = _refusal(judge, belief, scene) if scene.is_named else None
        if refusal is not None:
            return refusal
        way = planner(belief, scene.values)
        return no_way(way, scene) if isinstance(way, Refusal) else way

    return found


def _refusal(judge: HouseJudge, belief: Belief, scene: Scene) -> Finding | None:
    """Why the scene may not be entered from here, if so.

    What is broken already, and no worse in the scene, is no reason to stay: the
    planner knows how to leave danger, and refuses where it cannot.
    """
    before = {breach.key: breach.harm for _, breach in breaches_in(judge, belief)}
    after = settled(belief, scene.values)
    for _, breach in breaches_in(judge, after):
        if breach.harm > before.get(breach.key, 0.0):
            where, place = f"scene {scene.name}", scene.place
            return explain(judge, after, breach, where=where, place=place)
    return None


def no_way(refusal: Refusal, scene: Scene) -> Finding:
    """A refused crossing, as a finding for the person who asked for the scene."""
    name = f"scene {scene.name}" if scene.is_named else scene.name
    if refusal.hands:
        return unsafe_step(refusal, scene, name)
    first = ", ".join(refusal.must_be_known)
    return Finding(
        rule="no-safe-crossing",
        message=f"no safe way leads to {name} from here: {refusal.words}",
        place=scene.place,
        where=name,
        note=", ".join(refusal.rules),
        cure=f"these must be known first: {first}" if first else "",
    )
