"""The proof of the safe scene: it can be had from wherever the service may find itself.

Crossings between settings that scenes lead to are proved like any other. The safe
scene is also gone to when the service stops, was killed, lost its desk or its power, at
rest or in the middle of a crossing; so here are all beliefs that it may have then (see
`core.midway`).
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core.belief import Belief
from bridge.core.control import Reach, Scene
from bridge.core.finding import Finding, Severity
from bridge.core.judge import HouseJudge
from bridge.core.leg import Refusal
from bridge.core.midway import Case, cases, cut_short, narrower
from bridge.core.planner import Planner
from bridge.core.settings import Atlas
from bridge.core.studio import Studio

MOST_PLANNED = 1000
"""Planning takes about 10 ms; no studio of a few scenes has a thousand settings."""


def safe_findings(
    judge: HouseJudge, planner: Planner, atlas: Atlas
) -> Iterator[Finding]:
    """What stands against the safe scene, if the studio names one."""
    studio = judge.studio
    scene = studio.scenes.get(studio.safe_scene or "")
    if scene is None:
        return
    left = [
        control.label
        for name, control in studio.controls.items()
        if control.reach is Reach.REMOTE and name not in scene.values
    ]
    if left:
        yield _leaves(scene, left)
        return
    hands = [
        control.label
        for name, control in studio.controls.items()
        if control.reach is Reach.HAND and name in scene.values
    ]
    if hands:
        yield _by_hand(scene, hands)
        return
    yield from _out_of_reach(judge, planner, atlas, scene)


def _leaves(scene: Scene, left: list[str]) -> Finding:
    return Finding(
        rule="safe-scene-leaves",
        message=f"the safe scene {scene.name} does not say how {left[0]} is"
        + _others(", nor", left),
        place=scene.place,
        where=f"scene {scene.name}",
        note="it is gone to when nothing is known of the gear, so it must say all",
        cure="begin it with `everything: off`, or add the missing lines",
    )


def _by_hand(scene: Scene, labels: list[str]) -> Finding:
    return Finding(
        rule="safe-scene-by-hand",
        message=f"the safe scene {scene.name} asks a person to set {labels[0]}"
        + _others(" and", labels),
        place=scene.place,
        where=f"scene {scene.name}",
        note="it is gone to when nobody may be there",
        cure="leave what is set by hand out of it, or choose another safe scene",
    )


def _others(joint: str, labels: list[str]) -> str:
    """How many there are beside the first."""
    count = len(labels) - 1
    return f"{joint} {count} other{'s' if count > 1 else ''}" if count else ""


def _out_of_reach(
    judge: HouseJudge, planner: Planner, atlas: Atlas, scene: Scene
) -> Iterator[Finding]:
    studio = judge.studio
    starts: dict[object, Case] = {}
    for belief, where in _starts(studio, planner, atlas):
        starts.setdefault(tuple(belief[n] for n in studio.controls), (belief, where))
        if len(starts) > MOST_PLANNED:
            break
    if len(starts) > MOST_PLANNED:
        yield Finding(
            rule="safe-scene-tried",
            message=f"the way to {scene.name} was tried from {MOST_PLANNED} "
            "settings where the service may be cut short, and there are more",
            place=scene.place,
            severity=Severity.ADVICE,
        )
    for belief, where in list(starts.values())[:MOST_PLANNED]:
        way = _refused(studio, planner, belief, scene)
        if way is not None:
            yield Finding(
                rule="safe-scene-out-of-reach",
                message=f"no safe order leads to the safe scene {scene.name}",
                place=scene.place,
                where=f"{where}, to {scene.name}",
                note=way.words,
                cure="name a helper for it, or choose another safe scene",
            )
            return


def _starts(studio: Studio, planner: Planner, atlas: Atlas) -> Iterator[Case]:
    """Where the service may be cut short: at rest first, then on every way."""
    for reached in atlas.settings:
        for belief, how in cases(studio, reached.belief):
            yield belief, f"{reached.where}, {how}"
    for (number, name), end in atlas.leads.items():
        if number == end:
            continue
        here, scene = atlas.settings[number], studio.scenes[name]
        way = planner(here.belief, scene.values)
        if isinstance(way, Refusal):
            continue  # it is a finding already, and never begun
        for belief, how in cut_short(studio, here.belief, way):
            yield belief, f"on the way from {here.where} to {name}, {how}"


def _refused(
    studio: Studio, planner: Planner, belief: Belief, scene: Scene
) -> Refusal | None:
    """Why there is no way: from all that may be so together, nor from each."""
    way = planner(belief, scene.values)
    if not isinstance(way, Refusal):
        return None
    for one in narrower(studio, belief) or (belief,):
        each = planner(one, scene.values)
        if isinstance(each, Refusal):
            return each
    return None
