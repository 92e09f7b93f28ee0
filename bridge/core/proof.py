"""The whole proof of a studio: every setting, every crossing, and without power.

This is what `check` runs, what `run` insists on, and what decides for each scene
whether it may be entered.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from bridge.core.belief import Belief
from bridge.core.crossing import Crossing, Refusal
from bridge.core.explain import explain
from bridge.core.finding import Finding, Place, Severity, in_file_order
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.rules.breach import Breach
from bridge.core.settings import (
    MOST_SETTINGS,
    Reached,
    after_power_cut,
    before_start,
    in_force,
    reachable,
    without_power,
)
from bridge.core.studio import Reach, Scene, Studio


@dataclass(frozen=True, slots=True)
class Proof:
    """What was found, and how much was proved.

    settings: settings judged, power cuts included. crossings: ways from a setting (or
    from the unknown) to a scene, planned leg by leg. messages: steps in all of them.
    """

    findings: tuple[Finding, ...]
    settings: int
    crossings: int
    legs: int
    messages: int

    @property
    def holds(self) -> bool:
        """Whether nothing stands against running this studio."""
        return not any(f.severity is Severity.ERROR for f in self.findings)


def prove(judge: HouseJudge, planner: Planner) -> Proof:
    """Judge every reachable setting, with and without power, and every crossing."""
    studio = judge.studio
    settings = reachable(studio, lambda r: not judge.nevers_broken(r.belief))
    findings: dict[tuple[str, str], Finding] = {}
    if len(settings) >= MOST_SETTINGS:
        findings["too-many-settings", ""] = _too_many(studio)
    judged = 0
    for reached in settings:
        for scene, breach in breaches_in(judge, reached.belief):
            key = (breach.key, scene.name if scene else _last(reached))
            if key not in findings:
                findings[key] = _explained(judge, reached, scene, breach)
        for belief in _powerless(studio, reached.belief):
            judged += 1
            for breach in judge.never_breaches(belief):
                if breach.key not in judge.nevers_broken(reached.belief):
                    found = _no_power(judge, reached, belief, breach)
                    findings.setdefault((found.rule, breach.key), found)
    crossings = list(_crossings(judge, planner, settings))
    for reached, scene, way in crossings:
        if isinstance(way, Refusal):
            key = ("no-safe-crossing", f"{_last(reached)} to {scene.name}")
            findings.setdefault(key, _no_crossing(reached, scene, way))
    planned = [way for _, _, way in crossings if isinstance(way, Crossing)]
    legs = [leg for crossing in planned for leg in crossing.legs]
    return Proof(
        findings=in_file_order(findings.values()),
        settings=len(settings) + judged,
        crossings=len(planned),
        legs=len(legs),
        messages=sum(len(leg.steps) for leg in legs),
    )


def breaches_in(
    judge: HouseJudge, belief: Belief
) -> Iterator[tuple[Scene | None, Breach]]:
    """All that is broken in a setting, with the scene whose sentence it is, if any."""
    for breach in (*judge.never_breaches(belief), *judge.need_breaches(belief, None)):
        yield None, breach
    for scene in in_force(judge.studio, belief):
        theirs = (
            *judge.never_breaches(belief, scene.name),
            *judge.need_breaches(belief, scene.name),
        )
        for breach in theirs:
            if breach.sentence is not None and breach.sentence.scene == scene.name:
                yield scene, breach


def refusal_of(judge: HouseJudge, belief: Belief, scene: Scene) -> tuple[Finding, ...]:
    """Why entering a scene from this belief is refused; empty if it is not."""
    after = {**belief, **{n: frozenset({v}) for n, v in scene.values.items()}}
    where = f"scene {scene.name}"
    return tuple(
        explain(judge, after, breach, where=where, scene=scene.name, place=scene.place)
        for _, breach in breaches_in(judge, after)
    )


def _crossings(
    judge: HouseJudge, planner: Planner, settings: tuple[Reached, ...]
) -> Iterator[tuple[Reached, Scene, Crossing | Refusal]]:
    studio = judge.studio
    unknown = Reached(before_start(studio), ())
    remote = {n for n, c in studio.controls.items() if c.reach is Reach.REMOTE}
    for scene in studio.scenes.values():
        goal = scene.values
        if remote <= set(goal) and not _broken_after(judge, unknown.belief, scene):
            yield unknown, scene, planner(unknown.belief, goal)
        for reached in settings:
            if judge.nevers_broken(reached.belief):
                continue
            if _broken_after(judge, reached.belief, scene):
                continue  # the setting itself is a finding; it is never entered
            yield reached, scene, planner(reached.belief, goal)


def _broken_after(judge: HouseJudge, belief: Belief, scene: Scene) -> bool:
    after = {**belief, **{n: frozenset({v}) for n, v in scene.values.items()}}
    return bool(judge.nevers_broken(after))


def _powerless(studio: Studio, belief: Belief) -> tuple[Belief, ...]:
    cases = (without_power(studio, belief), after_power_cut(studio, belief))
    return tuple(case for case in cases if case != belief)


def _last(reached: Reached) -> str:
    return reached.scenes[-1] if reached.scenes else "the start"


def _place(judge: HouseJudge, reached: Reached) -> Place | None:
    if not reached.scenes:
        return None
    return judge.studio.scenes[reached.scenes[-1]].place


def _explained(
    judge: HouseJudge, reached: Reached, scene: Scene | None, breach: Breach
) -> Finding:
    return explain(
        judge,
        reached.belief,
        breach,
        where=reached.where,
        scene=scene.name if scene else None,
        place=_place(judge, reached),
    )


def _no_power(
    judge: HouseJudge, reached: Reached, belief: Belief, breach: Breach
) -> Finding:
    found = explain(
        judge,
        belief,
        breach,
        where=f"power gone in {reached.where}",
        place=_place(judge, reached),
    )
    note = f"without power this breaks {breach.rule}; relays fall to rest"
    return replace(found, rule="no-power", note=note)


def _no_crossing(reached: Reached, scene: Scene, refusal: Refusal) -> Finding:
    return Finding(
        rule="no-safe-crossing",
        message=f"no safe order leads from {_last(reached)} to {scene.name}",
        place=scene.place,
        where=f"{_last(reached)} to {scene.name}",
        note=refusal.words,
        cure="give one of the colliding demands a helper: a mute for the listener or a "
        "second way for what must be kept",
    )


def _too_many(studio: Studio) -> Finding:
    return Finding(
        rule="too-many-settings",
        message=f"the scenes lead to more than {MOST_SETTINGS} settings",
        place=next(iter(studio.scenes.values())).place,
        note="scenes that set only some controls multiply with each other",
        cure="let more scenes set all controls, for example with `from:`",
    )
