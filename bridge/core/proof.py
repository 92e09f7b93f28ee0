"""The whole proof of a studio: every setting, every crossing, and without power.

This is what `check` runs, what `run` insists on, and what decides for each scene
whether it may be entered.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from bridge.core.advice import advice_in, standing_advice
from bridge.core.belief import Belief, settled
from bridge.core.burst import jumps
from bridge.core.crossing import Crossing, Refusal
from bridge.core.explain import advise, explain
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

    settings: settings judged. powerless: how many of them are with power gone.
    crossings: ways from a setting (or from the unknown) to a scene, planned leg by
    leg. messages: steps in all of them.
    """

    findings: tuple[Finding, ...]
    settings: int
    powerless: int
    crossings: int
    legs: int
    messages: int

    @property
    def holds(self) -> bool:
        """Whether nothing stands against running this studio."""
        return not any(f.severity is Severity.ERROR for f in self.findings)


def prove(judge: HouseJudge, planner: Planner) -> Proof:
    """Judge every reachable setting, with and without power, and every crossing."""
    book = _Book(judge, planner)
    settings = reachable(judge.studio, lambda r: not judge.nevers_broken(r.belief))
    if len(settings) >= MOST_SETTINGS:
        book.add(("too-many-settings",), _too_many(judge.studio))
    for reached in settings:
        book.judge_setting(reached)
    for reached, scene in _pairs(judge, settings):
        book.judge_crossing(reached, scene)
    return Proof(
        findings=in_file_order((*book.findings.values(), *standing_advice(judge))),
        settings=book.settings,
        powerless=book.powerless,
        crossings=len(book.planned),
        legs=sum(len(crossing.legs) for crossing in book.planned),
        messages=sum(len(leg.steps) for c in book.planned for leg in c.legs),
    )


class _Book:
    """What one proof has found so far; each trouble once, by its shortest way."""

    def __init__(self, judge: HouseJudge, planner: Planner) -> None:
        self._judge = judge
        self._planner = planner
        self.findings: dict[tuple[str, ...], Finding] = {}
        self.planned: list[Crossing] = []
        self.settings = 0
        self.powerless = 0

    def add(self, key: tuple[str, ...], finding: Finding) -> None:
        """Keep a finding, unless the same trouble is known."""
        self.findings.setdefault(key, finding)

    def judge_setting(self, reached: Reached) -> None:
        """The setting itself, and what is left of it without power."""
        judge = self._judge
        self.settings += 1
        belief, where, place = reached.belief, reached.where, _place(judge, reached)
        for scene, breach in breaches_in(judge, belief):
            if (breach.key, _last(reached)) not in self.findings:
                name = scene.name if scene else None
                found = explain(
                    judge, belief, breach, where=where, scene=name, place=place
                )
                self.add((breach.key, _last(reached)), found)
        for breach in advice_in(judge, belief):
            if (breach.key,) not in self.findings:
                found = advise(judge, belief, breach, where=where, place=place)
                self.add((breach.key,), found)
        present = judge.nevers_broken(reached.belief)
        for powerless in _powerless(judge.studio, belief):
            self.settings += 1
            self.powerless += 1
            for breach in judge.never_breaches(powerless):
                if breach.key not in present:
                    self.add(
                        ("no-power", breach.key),
                        _no_power(judge, reached, powerless, breach),
                    )

    def judge_crossing(self, reached: Reached, scene: Scene) -> None:
        """One crossing: whether there is a safe order, and what jumps."""
        way = self._planner(reached.belief, scene.values)
        if isinstance(way, Refusal):
            key = ("no-safe-crossing", _last(reached), scene.name)
            self.add(key, _no_crossing(reached, scene, way))
            return
        if way.legs:
            self.planned.append(way)
        if not reached.scenes:
            return
        after = settled(reached.belief, scene.values)
        for breach in jumps(self._judge, reached.belief, after):
            where = f"{_last(reached)} to {scene.name}"
            self.add(
                ("jump", breach.key),
                advise(self._judge, after, breach, where=where, place=scene.place),
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
    after = settled(belief, scene.values)
    where = f"scene {scene.name}"
    return tuple(
        explain(judge, after, breach, where=where, scene=scene.name, place=scene.place)
        for _, breach in breaches_in(judge, after)
    )


def _pairs(
    judge: HouseJudge, settings: tuple[Reached, ...]
) -> Iterator[tuple[Reached, Scene]]:
    """Every start and scene that the service would ever be asked to cross between."""
    studio = judge.studio
    unknown = Reached(before_start(studio), ())
    remote = {n for n, c in studio.controls.items() if c.reach is Reach.REMOTE}
    starts = [r for r in settings if not judge.nevers_broken(r.belief)]
    for scene in studio.scenes.values():
        complete = [unknown] if remote <= set(scene.values) else []
        for reached in (*complete, *starts):
            # a setting that is broken is a finding already, and is never entered
            if not judge.nevers_broken(settled(reached.belief, scene.values)):
                yield reached, scene


def _powerless(studio: Studio, belief: Belief) -> tuple[Belief, ...]:
    cases = (without_power(studio, belief), after_power_cut(studio, belief))
    return tuple(case for case in cases if case != belief)


def _last(reached: Reached) -> str:
    return reached.scenes[-1] if reached.scenes else "the start"


def _place(judge: HouseJudge, reached: Reached) -> Place | None:
    if not reached.scenes:
        return None
    return judge.studio.scenes[reached.scenes[-1]].place


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
