"""The whole proof of a studio: every setting, every crossing, and without power.

This is what `check` runs, what `run` insists on, and what decides for each scene
whether it may be entered.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.advice import standing_advice
from bridge.core.book import Book, too_many
from bridge.core.control import Reach
from bridge.core.finding import Finding, Severity, in_file_order
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.safe_scene import safe_findings
from bridge.core.settings import MOST_SETTINGS, Reached, before_start, explore
from bridge.core.toggling import with_toggles_known

MANY_CROSSINGS = 1000
"""From here on crossings are proved at a stroke where possible: planning takes about
10 ms each. Below, every one is planned, which also warms the planner's memory."""


@dataclass(frozen=True, slots=True)
class Proof:
    """What was found, and how much was proved.

    settings: settings judged. powerless: how many of them are with power gone.
    crossings: ways from a setting (or from the unknown) to a scene, planned leg by
    leg. messages: steps in all of them. by_hand: crossings that wait for a person.
    """

    findings: tuple[Finding, ...]
    settings: int
    powerless: int
    crossings: int
    legs: int
    messages: int
    by_theorem: int = 0
    by_hand: int = 0

    @property
    def holds(self) -> bool:
        """Whether nothing stands against running this studio."""
        return not any(f.severity is Severity.ERROR for f in self.findings)


def prove(judge: HouseJudge, planner: Planner) -> Proof:
    """Judge every reachable setting, with and without power, and every crossing."""
    studio = judge.studio
    book = Book(judge, planner)
    sound: dict[int, bool] = {}
    atlas = explore(studio, lambda r: not judge.nevers_broken(r.belief))
    if len(atlas.settings) >= MOST_SETTINGS:
        book.add(("too-many-settings",), too_many(studio))
    for number, reached in enumerate(atlas.settings):
        sound[number] = not judge.nevers_broken(reached.belief)
        book.judge_setting(reached)
    many = len(atlas.leads) > MANY_CROSSINGS
    starts = with_toggles_known(studio.controls, before_start(studio))
    unknowns = [Reached(belief, ()) for belief in starts]
    remote = {n for n, c in studio.controls.items() if c.reach is Reach.REMOTE}
    for scene in studio.scenes.values():
        end = atlas.leads.get((0, scene.name))
        if end is not None and sound[end] and remote <= set(scene.values):
            if many:
                there = atlas.settings[end]
                book.prove_crossing(unknowns[0], scene, there, unknown=True)
                continue
            for unknown in unknowns:
                book.plan_crossing(unknown, scene)
    for (number, name), end in atlas.leads.items():
        if number == end or not (sound[number] and sound[end]):
            continue  # a setting that is broken is a finding already: never entered
        here, there = atlas.settings[number], atlas.settings[end]
        scene = studio.scenes[name]
        if many:
            book.prove_crossing(here, scene, there)
        else:
            book.plan_crossing(here, scene)
        if here.scenes:
            book.look_for_jumps(here, scene, there)
    further = (
        *book.hands.findings(),
        *safe_findings(judge, planner, atlas),
        *standing_advice(judge),
    )
    return Proof(
        findings=in_file_order((*book.findings.values(), *further)),
        settings=book.settings,
        powerless=book.powerless,
        crossings=book.crossings,
        by_theorem=book.by_theorem,
        by_hand=book.by_hand,
        legs=book.legs,
        messages=book.messages,
    )
