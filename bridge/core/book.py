"""What one proof has found so far: each trouble once, told by its shortest way."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

from bridge.core.advice import advice_in
from bridge.core.belief import Belief, settled
from bridge.core.burst import ear_levels, jumps
from bridge.core.control import Scene
from bridge.core.crossing import Refusal
from bridge.core.cures import change_words, cure, cure_words, value_words
from bridge.core.explain import advise, explain, told
from bridge.core.finding import Finding, Place
from bridge.core.hand_notes import NO_SCENE, HandNotes
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.ramping import gently_set
from bridge.core.rules.breach import Breach
from bridge.core.settings import (
    MOST_SETTINGS,
    Reached,
    after_power_cut,
    in_force,
    without_power,
)
from bridge.core.studio import Studio
from bridge.core.swift import Swift

Ears = dict[tuple[str, str], float]
"""(source, listener) -> amplitude at the ear."""


TO_MATCH = "let the two be as loud at that ear: treadle lineup says in which order"


class Book:
    """Judges settings and crossings, counts them, and keeps what is wrong."""

    def __init__(self, judge: HouseJudge, planner: Planner) -> None:
        self._judge = judge
        self._planner = planner
        self._swift = Swift(judge)
        self._gentle = gently_set(judge.studio, judge.studio.limits.match_db)
        self._ear_levels: dict[int, dict[tuple[str, str], float]] = {}
        self.findings: dict[tuple[str, ...], Finding] = {}
        self.settings = self.powerless = 0
        self.crossings = self.legs = self.messages = self.by_theorem = 0
        self.by_hand = 0
        self.hands = HandNotes()

    def add(self, key: tuple[str, ...], finding: Finding) -> None:
        """Keep a finding, unless the same trouble is known."""
        self.findings.setdefault(key, finding)

    def judge_setting(self, reached: Reached) -> None:
        """The setting itself, and what is left of it without power."""
        judge = self._judge
        self.settings += 1
        belief, where, place = reached.belief, reached.where, _place(judge, reached)
        for _, breach in told_of(breaches_in(judge, belief)):
            if (breach.key, last_scene(reached)) not in self.findings:
                found = explain(judge, belief, breach, where=where, place=place)
                self.add((breach.key, last_scene(reached)), found)
        for breach in advice_in(judge, belief):
            if (breach.key,) not in self.findings:
                found = advise(judge, belief, breach, where=where, place=place)
                self.add((breach.key,), found)
        present = judge.nevers_broken(belief)
        for powerless in _powerless(judge.studio, belief):
            self.settings += 1
            self.powerless += 1
            if judge.nevers_broken(powerless).keys() <= present.keys():
                continue
            broken = ((None, b) for b in judge.never_breaches(powerless))
            for _, breach in told_of(broken):
                key = ("no-power", breach.key)
                if breach.key not in present and key not in self.findings:
                    self.add(key, _no_power(judge, reached, powerless, breach))

    def plan_crossing(self, start: Reached, scene: Scene) -> None:
        """One crossing, planned leg by leg."""
        way = self._planner(start.belief, scene.values)
        if isinstance(way, Refusal) and way.hands:
            self.hands.refused(last_scene(start), scene, way)
        elif isinstance(way, Refusal):
            key = ("no-safe-crossing", last_scene(start), scene.name)
            self.add(key, _no_crossing(start, scene, way))
        elif way.legs:
            self.hands.led(last_scene(start), scene)
            self.by_hand += bool(way.by_hand)
            self.crossings += 1
            self.legs += len(way.legs)
            self.messages += sum(len(leg.steps) for leg in way.legs)

    def prove_crossing(
        self, start: Reached, scene: Scene, end: Reached, *, unknown: bool = False
    ) -> None:
        """One crossing, at a stroke if that tells; planned if it does not.

        unknown: nothing is known at the start, and the scene sets everything.
        """
        swift = self._swift
        stroke = swift.from_unknown(end) if unknown else swift.stroke(start, end)
        if stroke is None:
            self.plan_crossing(start, scene)
            return
        self.crossings += 1
        self.by_theorem += 1
        self.legs += stroke.legs
        self.messages += stroke.cuts + stroke.opens

    def look_for_jumps(self, start: Reached, scene: Scene, end: Reached) -> None:
        """Advice where a source jumps at an ear from one setting to the next."""
        for before, after in self._leaps(start, end):
            for breach in jumps(self._judge.studio, before, after):
                if ("jump", breach.key) not in self.findings:
                    where = f"{last_scene(start)} to {scene.name}"
                    found = advise(
                        self._judge, end.belief, breach, where=where, place=scene.place
                    )
                    self.add(("jump", breach.key), replace(found, cure=TO_MATCH))

    def _leaps(self, start: Reached, end: Reached) -> Iterator[tuple[Ears, Ears]]:
        """What changes at the ears without going in steps, before them or after."""
        gentle = self._gentle
        before, after = self._at_ears(start), self._at_ears(end)
        if not gentle:
            yield before, after
            return
        there = {**start.belief, **{name: end.belief[name] for name in gentle}}
        here = {**end.belief, **{name: start.belief[name] for name in gentle}}
        yield ear_levels(self._judge, there), after
        yield before, ear_levels(self._judge, here)

    def _at_ears(self, reached: Reached) -> dict[tuple[str, str], float]:
        found = self._ear_levels.get(id(reached))
        if found is None:
            found = self._ear_levels[id(reached)] = ear_levels(
                self._judge, reached.belief
            )
        return found


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


def told_of(
    found: Iterable[tuple[Scene | None, Breach]],
) -> Iterator[tuple[Scene | None, Breach]]:
    """All but what is only said again: a loop that howls is without limit everywhere.

    Then caps and own voices break too, and mend with it. They are left out of reports,
    not out of the judging.
    """
    broken = tuple(found)
    howls = any(breach.loop for _, breach in broken)
    for scene, breach in broken:
        if breach.loop or not (howls and math.isinf(breach.harm)):
            yield scene, breach


def refusal_of(judge: HouseJudge, belief: Belief, scene: Scene) -> tuple[Finding, ...]:
    """Why entering a scene from this belief is refused; empty if it is not."""
    after = settled(belief, scene.values)
    where = f"scene {scene.name}"
    return tuple(
        explain(judge, after, breach, where=where, place=scene.place)
        for _, breach in breaches_in(judge, after)
    )


def _powerless(studio: Studio, belief: Belief) -> tuple[Belief, ...]:
    cases = (without_power(studio, belief), after_power_cut(studio, belief))
    return tuple(case for case in cases if case != belief)


def last_scene(reached: Reached) -> str:
    """The scene that led here, in words."""
    return reached.scenes[-1] if reached.scenes else NO_SCENE


def _place(judge: HouseJudge, reached: Reached) -> Place | None:
    if not reached.scenes:
        return None
    return judge.studio.scenes[reached.scenes[-1]].place


def _no_power(
    judge: HouseJudge, reached: Reached, belief: Belief, breach: Breach
) -> Finding:
    found = told(
        judge,
        belief,
        breach,
        where=f"power gone in {reached.where}",
        place=_place(judge, reached),
        cure=_powerless_cure(judge, belief),
    )
    note = f"without power this breaks {breach.rule}; relays fall to rest"
    note = "\n".join(filter(None, (note, found.note)))
    return replace(found, rule="no-power", note=note)


def _powerless_cure(judge: HouseJudge, belief: Belief) -> str:
    """What to plug otherwise: without power there is nothing that could be set."""
    found = cure(judge, belief)
    if found.changes is None:
        return cure_words(judge.studio, found)
    controls = judge.studio.controls
    if all(controls[name].at_rest is not None for name, _ in found.changes):
        return "plug it so that " + " and ".join(
            f"{controls[name].gear} at rest does what it does at "
            f"{value_words(value)} now"
            for name, value in found.changes
        )
    changes = change_words(judge.studio, found.changes)
    return f"let it be so when power comes on, or is lost: {changes}"


def _no_crossing(reached: Reached, scene: Scene, refusal: Refusal) -> Finding:
    return Finding(
        rule="no-safe-crossing",
        message=f"no safe order leads from {last_scene(reached)} to {scene.name}",
        place=scene.place,
        where=f"{last_scene(reached)} to {scene.name}",
        note=refusal.words,
        cure="name under helpers: what may be set for a moment (a mute for the "
        "listener, a lower level, a second way), or drop one of the two demands",
    )


def too_many(studio: Studio) -> Finding:
    """The finding for scenes that multiply beyond what is explored."""
    return Finding(
        rule="too-many-settings",
        message=f"the scenes lead to more than {MOST_SETTINGS} settings",
        place=next(iter(studio.scenes.values())).place,
        note="scenes that set only some controls multiply with each other",
        cure="let more scenes set all controls, for example with `from:`",
    )
