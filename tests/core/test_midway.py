"""The safe scene is in reach from the middle of every crossing, or it is a finding."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from bridge.core.demand import Demand, Sentence
from bridge.core.finding import Finding
from bridge.core.judge import HouseJudge
from bridge.core.leg import Refusal
from bridge.core.planner import Planner
from bridge.core.proof import prove
from bridge.core.studio import Studio
from tests.core.sketch import Sketch, gated, selector, switch
from tests.core.test_faults import OVER_THE_WIRE
from tests.core.test_faults import STUDIO as BOOTH
from tests.fakes.over_osc import over_osc
from tests.fakes.trial import FATES, Fate, Stage

STAGE = Stage(replace(BOOTH, safe_scene="off"))


@pytest.mark.parametrize(("start", "goal"), OVER_THE_WIRE)
@pytest.mark.parametrize("fate", FATES)
def test_it_is_reached_from_every_boundary(start: str, goal: str, fate: Fate) -> None:
    """After a kill, an end in good order, and a desk that was gone for a while."""
    fates = [fate] * 6
    kept = {start, goal, "off"}
    for at in STAGE.boundaries(start, goal, fates):
        trial = STAGE.run(start, goal, fates, kill_at=at)
        trial.judged_at_last()
        assert kept & set(trial.machine.scenes_in_force)

        trial = STAGE.arrived(start)
        trial.script.fates = list(fates)
        trial.want(goal)
        trial.wait(at)
        trial.script.fates = []
        kept_moment = STAGE.saved(trial)
        trial.stop()
        assert trial.broke == []
        if fate:
            assert trial.world.true == {**BOOTH.scenes["off"].values}

        trial = STAGE.again(kept_moment)
        trial.pull("desk")
        trial.wait(1.0)
        trial.plug("desk")
        trial.wait(3.0)
        trial.judged_at_last()
        assert kept & set(trial.machine.scenes_in_force)


def corners(*, mute: bool) -> Studio:
    """Two selectors; three of their nine settings let the bed hear the talk.

    From `one` and from `two` the safe scene can be had, each in its own order, but
    from (2, 1), which is between them, neither selector may go first.
    """
    sketch = Sketch()
    source = "muted" if mute else "talk"
    sketch.edge("talk", "muted", 0.0, 0.0, gated("open"))
    for left, right in (("s", "1"), ("2", "s"), ("1", "2")):
        gates = gated("left", left), gated("right", right)
        sketch.edge(source, "bed", 0.0, 0.0, *gates)
    scenes = {
        name: {"left": left, "right": right, "open": True}
        for name, left, right in (("one", *"11"), ("two", *"22"), ("safe", *"ss"))
    }
    studio = sketch.studio(
        selector("left", "1", "2", "s"),
        selector("right", "1", "2", "s"),
        switch("open"),
        sources=[sketch.source("talk", "talk")],
        listeners=[sketch.listener("bed", "bed")],
        scenes=scenes,
        sentences=[Sentence(Demand.NEVER, "bed", "talk", "bed never hears talk")],
        start="one",
    )
    helpers = (("open", False),) if mute else ()
    return replace(over_osc(studio), helpers=helpers, safe_scene="safe")


def findings_of(studio: Studio) -> list[Finding]:
    judge = HouseJudge(studio)
    found = prove(judge, Planner(judge)).findings
    return [finding for finding in found if finding.rule.startswith("safe-scene")]


def test_a_way_that_is_cut_off_in_the_middle_of_a_crossing_is_a_finding() -> None:
    (finding,) = findings_of(corners(mute=False))
    assert finding.rule == "safe-scene-out-of-reach"
    assert finding.where == ("on the way from scene one to two, contacts gone, to safe")
    assert findings_of(corners(mute=True)) == []


def test_it_is_a_finding_if_and_only_if_some_setting_on_some_way_has_no_way_home() -> (
    None
):
    """By exhaustion: every scene pair, every leg, every subset of what it sends."""
    for mute in (False, True):
        studio = corners(mute=mute)
        planner = Planner(HouseJudge(studio))
        stuck = set()
        for start, goal in itertools.permutations(studio.scenes, 2):
            here = dict(studio.scenes[start].values)
            way = planner(
                {n: frozenset({v}) for n, v in here.items()},
                dict(studio.scenes[goal].values),
            )
            assert not isinstance(way, Refusal)
            for leg in way.legs:
                for count in range(len(leg.changes) + 1):
                    for some in itertools.combinations(leg.changes, count):
                        there = here | {c.control: c.value for c in some}
                        home = planner(
                            {n: frozenset({v}) for n, v in there.items()},
                            studio.scenes["safe"].values,
                        )
                        if isinstance(home, Refusal):
                            stuck.add((there["left"], there["right"]))
                here |= leg.setting
        assert stuck == (set() if mute else {("2", "1")})
        assert bool(findings_of(studio)) == bool(stuck)
