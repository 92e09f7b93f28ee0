"""Cures against exhaustive search on small studios."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.belief import Setting, known
from bridge.core.control import Reach
from bridge.core.cures import change_words, cure
from bridge.core.demand import Demand, Sentence
from bridge.core.judge import HouseJudge
from bridge.core.studio import Studio
from tests.core.sketch import Sketch, gated, random_studio, switch

pytestmark = pytest.mark.long


def random_case(seed: int) -> tuple[Studio, Setting]:
    rng = random.Random(seed)
    studio = random_studio(seed, most_gain_db=0.0)
    controls = {
        name: replace(
            control, reach=rng.choice([Reach.REMOTE, Reach.REMOTE, Reach.HAND])
        )
        for name, control in studio.controls.items()
    }
    need = Sentence(Demand.NEEDS, "stream", "host", "stream hears host")
    setting = {name: rng.choice(c.values) for name, c in controls.items()}
    return replace(studio, controls=controls, sentences=(need,)), setting


def cost(studio: Studio, setting: Setting, other: Setting) -> tuple[int, int]:
    """Hand controls that differ, then all that differ."""
    differ = [name for name in setting if setting[name] != other[name]]
    by_hand = sum(studio.controls[name].reach is Reach.HAND for name in differ)
    return by_hand, len(differ)


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 10**9))
def test_a_cure_holds_and_is_the_cheapest_of_all_settings(seed: int) -> None:
    studio, setting = random_case(seed)
    judge = HouseJudge(studio)
    good = []
    for values in itertools.product(*(c.values for c in studio.controls.values())):
        other = dict(zip(studio.controls, values, strict=True))
        belief = known(other)
        if not judge.never_breaches(belief) and not judge.need_breaches(belief, None):
            good.append(cost(studio, setting, other))
    found = cure(judge, known(setting))
    if good:
        assert found.changes is not None
        cured = {**setting, **dict(found.changes)}
        assert not judge.never_breaches(known(cured))
        assert not judge.need_breaches(known(cured), None)
        assert cost(studio, setting, cured) == min(good)
    else:
        assert found.changes is None
        assert found.proved
        assert found.collide


def test_two_demands_that_collide_are_named() -> None:
    """One switch feeds the guest both the host and the guest: all or nothing."""
    sketch = Sketch()
    sketch.edge("host.mouth", "pair")
    sketch.edge("guest.mouth", "pair", 0.0, 100.0)
    sketch.edge("pair", "guest.ear", 0.0, 100.0, gated("pair to guest"))
    studio = sketch.studio(
        switch("pair to guest"),
        sources=[
            sketch.source("host", "host.mouth", person="host"),
            sketch.source("guest", "guest.mouth", person="guest"),
        ],
        listeners=[sketch.listener("guest", "guest.ear", person="guest", far=True)],
        sentences=[Sentence(Demand.NEEDS, "guest", "host", "guest hears host")],
    )
    found = cure(HouseJudge(studio), known({"pair to guest": True}))
    assert found.changes is None
    assert found.proved
    assert set(found.collide) == {
        "own-voice-late: guest to guest",
        "must-hear: guest hears host",
    }
    assert found.apart == (
        "give guest or host a return pair or an input of its own (both come on pair)",
    )


def test_a_cure_reads_as_an_instruction() -> None:
    studio = Sketch().studio(switch("a to b"), switch("c to d", reach=Reach.HAND))
    words = change_words(studio, (("a to b", False), ("c to d", True)))
    assert words == "set a to b to off (desk), set by hand c to d to on (desk)"
