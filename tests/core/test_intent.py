"""Intents against exhaustive search on small studios."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.belief import Setting, known
from bridge.core.control import Kind
from bridge.core.graph import AirGear, Transducer
from bridge.core.hearing import Bound
from bridge.core.intent import (
    Found,
    Impossible,
    Intent,
    quietest,
    solve,
)
from bridge.core.judge import HouseJudge
from bridge.core.kin import meant_for
from bridge.core.rules.demands import audible_db
from bridge.core.rules.sudden_level import levels
from bridge.core.studio import Studio
from bridge.core.units import amplitude
from bridge.core.ways import nominal
from tests.core.sketch import Sketch, gated, random_studio, selector, switch

pytestmark = pytest.mark.long


seeds = st.integers(0, 10**9)


def every_setting(studio: Studio) -> Iterator[Setting]:
    """Each choice of switches and positions, levels at nominal."""
    names = list(studio.controls)
    choices = [
        (nominal(c),) if c.kind is Kind.LEVEL else c.values
        for c in studio.controls.values()
    ]
    for values in itertools.product(*choices):
        yield dict(zip(names, values, strict=True))


def meets(judge: HouseJudge, setting: Setting, intent: Intent) -> bool:
    """The definition of an intent, worked out with nothing of the search."""
    studio = judge.studio
    belief = known(setting)
    if judge.never_breaches(belief):
        return False
    scope = judge.scope(belief, Bound.LOUDEST)
    heard = levels(scope)
    for who, wanted in intent.hears.items():
        listener = next(x for x in studio.listeners if x.name == who)
        meant = meant_for(studio, listener, wanted)
        for source in studio.sources:
            if source.name in wanted:
                best = max(
                    (
                        path.gain
                        for node in listener.nodes
                        for path in scope.corner.arrivals(source.nodes, node).paths
                    ),
                    default=0.0,
                )
                if best < amplitude(audible_db(studio, listener)):
                    return False
            elif source.name not in meant:
                loud = heard.get((source.name, who), 0.0)
                if loud >= amplitude(audible_db(studio, listener)):
                    return False
    return True


def opened(studio: Studio, setting: Setting) -> int:
    return sum(
        control.kind is Kind.SWITCH and setting[name] != quietest(studio, control)
        for name, control in studio.controls.items()
    )


@settings(max_examples=120, deadline=None)
@given(seeds)
def test_intent_finds_the_fewest_open_switches_or_there_is_nothing(seed: int) -> None:
    studio = random_studio(seed, most_gain_db=-1.0)
    judge = HouseJudge(studio)
    rng = random.Random(seed)
    names = [s.name for s in studio.sources]
    hears = {
        listener.name: tuple(
            n for n in names if n != listener.person and rng.random() < 0.5
        )
        for listener in studio.listeners
        if rng.random() < 0.8
    }
    intent = Intent(hears, {})
    good = [s for s in every_setting(studio) if meets(judge, s, intent)]
    found = solve(judge, intent)
    if good:
        fewest = min(opened(studio, s) for s in good)
        assert isinstance(found, Found)
        assert meets(judge, found.setting, intent)
        assert opened(studio, found.setting) == fewest == len(found.opened)
    else:
        assert isinstance(found, Impossible)
        assert not found.given_up
        assert found.because


def test_an_impossible_intent_names_the_smallest_clash() -> None:
    """One return pair for call and jingles: the guest cannot have one of them."""
    sketch = Sketch()
    sketch.edge("guest.mouth", "pair", 0.0, 90.0)
    sketch.edge("jingles", "pair")
    sketch.edge("pair", "program", 0.0, 0.0, gated("pair to program"))
    sketch.edge("mic", "program", 0.0, 0.0, gated("mic to program"))
    sketch.edge("program", "guest.ear", 0.0, 90.0)
    studio = sketch.studio(
        switch("pair to program"),
        switch("mic to program"),
        sources=[
            sketch.source("guest", "guest.mouth", person="guest"),
            sketch.source("jingles", "jingles"),
            sketch.source("mic", "mic"),
        ],
        listeners=[sketch.listener("guest", "guest.ear", person="guest", far=True)],
    )
    found = solve(HouseJudge(studio), Intent({"guest": ("mic", "jingles")}, {}))
    assert isinstance(found, Impossible)
    assert found.wishes == (("guest", "jingles"),)
    assert "own-voice-late: guest to guest" in found.because


def test_an_intent_may_say_on_what_a_person_listens() -> None:
    sketch = Sketch()
    sketch.edge("jingles", "phones", 0.0, 0.0, gated("out", "phones"))
    sketch.edge("jingles", "speakers", 0.0, 0.0, gated("out", "speakers"))
    sketch.edge("phones", "host.ear")
    sketch.edge("speakers", "host.ear")
    phones = AirGear("phones", Transducer.HEADPHONES, (sketch.node("phones"),), "room")
    speakers = AirGear("speakers", Transducer.SPEAKERS, (2,), "room")
    studio = sketch.studio(
        selector("out", "speakers", "phones"),
        sources=[sketch.source("jingles", "jingles")],
        listeners=[sketch.listener("host", "host.ear", person="host")],
    )
    studio = replace(studio, air_gear=(phones, speakers))
    for gear in ("phones", "speakers"):
        found = solve(
            HouseJudge(studio), Intent({"host": ("jingles",)}, {"host": gear})
        )
        assert isinstance(found, Found)
        assert found.setting == {"out": gear}
