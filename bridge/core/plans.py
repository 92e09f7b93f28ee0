"""Plans made before they are needed, so that a press does not wait for one."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterable, Sequence

from bridge.core.belief import Belief
from bridge.core.book import refusal_of
from bridge.core.crossing import Crossing, Helper, Refusal, loudness_of, plan
from bridge.core.finding import Finding, Severity
from bridge.core.judge import HouseJudge
from bridge.core.studio import Scene
from bridge.core.wire import Value

Planner = Callable[[Belief, Scene], Crossing | Finding]
"""Finds the way from a belief to a scene, or says why there is none."""

AT_REST = ""
"""The name of the scene that is none: contacts let go when the service stops."""

PLANS_KEPT = 256
"""Plans remembered: sixteen scenes from each of sixteen beliefs. A plan is about 2 kB;
the longest unused is forgotten first and costs one planning, not a wrong answer."""


class Plans:
    """A planner that remembers. The same belief and scene give the same plan."""

    def __init__(self, planner: Planner, controls: Iterable[str]) -> None:
        self._planner = planner
        self._controls = tuple(controls)
        self._kept: OrderedDict[
            tuple[str, tuple[frozenset[Value], ...]], Crossing | Finding
        ] = OrderedDict()

    def find(self, belief: Belief, scene: Scene) -> Crossing | Finding:
        """The way to the scene, made now unless it was made before."""
        key = self._key(belief, scene)
        found = self._kept.get(key)
        if found is None:
            found = self._planner(belief, scene)
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

    def _key(
        self, belief: Belief, scene: Scene
    ) -> tuple[str, tuple[frozenset[Value], ...]]:
        return scene.name, tuple(belief[name] for name in self._controls)


def planner_for(judge: HouseJudge, helpers: Sequence[Helper] = ()) -> Planner:
    """The house's planner: the scene must be allowed, then a safe order be found."""
    controls = judge.studio.controls
    loudness = loudness_of(judge.studio.graph)

    def planned(belief: Belief, scene: Scene) -> Crossing | Finding:
        if scene.name != AT_REST:
            for finding in refusal_of(judge, belief, scene):
                if finding.severity is Severity.ERROR:
                    return finding
        found = plan(judge, controls, belief, scene.values, helpers, loudness=loudness)
        return no_way(found, scene) if isinstance(found, Refusal) else found

    return planned


def no_way(refusal: Refusal, scene: Scene) -> Finding:
    """A refused crossing, as a finding for the person who asked for the scene."""
    name = f"scene {scene.name}" if scene.name != AT_REST else "rest"
    first = ", ".join(refusal.must_be_known)
    return Finding(
        rule="no-safe-crossing",
        message=f"no safe way leads to {name} from here: {refusal.words}",
        place=scene.place,
        where=name,
        note=", ".join(refusal.rules),
        cure=f"these must be known first: {first}" if first else "",
    )
