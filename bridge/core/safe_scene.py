"""The proof of the safe scene: it can be had from wherever the service may find itself.

Crossings between settings that scenes lead to are proved like any other. The safe
scene is also gone to after a kill or a loss of power, so here the settings are those
with contacts released, or with gear as it wakes up.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core.finding import Finding, Severity
from bridge.core.judge import HouseJudge
from bridge.core.leg import Refusal
from bridge.core.planner import Planner
from bridge.core.settings import Atlas, after_power_cut, without_power
from bridge.core.studio import Reach, Scene

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
        + (f", nor {len(left) - 1} others" if len(left) > 1 else ""),
        place=scene.place,
        where=f"scene {scene.name}",
        note="it is gone to when nothing is known of the gear, so it must say all",
        cure="begin it with `everything: off`, or add the missing lines",
    )


def _by_hand(scene: Scene, labels: list[str]) -> Finding:
    return Finding(
        rule="safe-scene-by-hand",
        message=f"the safe scene {scene.name} asks a person to set {labels[0]}"
        + (f" and {len(labels) - 1} others" if len(labels) > 1 else ""),
        place=scene.place,
        where=f"scene {scene.name}",
        note="it is gone to when nobody may be there",
        cure="leave what is set by hand out of it, or choose another safe scene",
    )


def _out_of_reach(
    judge: HouseJudge, planner: Planner, atlas: Atlas, scene: Scene
) -> Iterator[Finding]:
    studio = judge.studio
    starts = {
        tuple(belief[name] for name in studio.controls): (belief, where)
        for reached in atlas.settings
        for belief, where in (
            (without_power(studio, reached.belief), f"{reached.where}, contacts gone"),
            (after_power_cut(studio, reached.belief), f"{reached.where}, power gone"),
        )
    }
    if len(starts) > MOST_PLANNED:
        yield Finding(
            rule="safe-scene-tried",
            message=f"the way to {scene.name} was tried from {MOST_PLANNED} of "
            f"{len(starts)} settings without power",
            place=scene.place,
            severity=Severity.ADVICE,
        )
    for belief, where in list(starts.values())[:MOST_PLANNED]:
        way = planner(belief, scene.values)
        if isinstance(way, Refusal):
            yield Finding(
                rule="safe-scene-out-of-reach",
                message=f"no safe order leads to the safe scene {scene.name}",
                place=scene.place,
                where=f"{where}, to {scene.name}",
                note=way.words,
                cure="name a helper for it, or choose another safe scene",
            )
            return
