"""A desk with a memory: every fault at every boundary, and an honest belief.

The guest leaves the program bus for the monitor bus and the host must go on hearing
the guest: one by one there is a way; in one instant it is shorter.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.core.demand import Demand, Sentence
from bridge.core.effects import Moved, Told, Wanted
from bridge.core.guard import refused_because
from bridge.core.instant import Instant, possible
from bridge.core.leg import Crossing
from bridge.core.recall import Recall
from bridge.core.studio import Studio
from bridge.core.wire import Osc
from tests.core.sketch import Sketch, gated, switch
from tests.fakes.fault_search import MOST_PACKETS, Search, judged
from tests.fakes.over_osc import over_osc
from tests.fakes.trial import FATES, LOST, TWICE, WELL

LOAD = (Osc("desk", "/memory/load", (2,)),)


def swapping(*, atomic: bool = True) -> Studio:
    """Two ways for one source to a recorder that must never stop, nor clip."""
    sketch = Sketch()
    sketch.edge("host.mouth", "recorder", 0.0, 0.0, gated("a"))
    sketch.edge("host.mouth", "recorder", 0.0, 0.0, gated("b"))
    studio = sketch.studio(
        switch("a", at_power_up=True),
        switch("b", at_power_up=False),
        switch("c", at_power_up=False),
        sources=[sketch.source("host", "host.mouth", person="host")],
        listeners=[sketch.listener("tape", "recorder", far=True, cap_db=1.0)],
        scenes={
            "one": {"a": True, "b": False, "c": False},
            "other": {"a": False, "b": True, "c": False},
        },
        sentences=[Sentence(Demand.KEEP, "tape", "host", "tape hears host")],
        start="one",
    )
    values = {"a": False, "b": True, "c": False}
    recall = Recall("desk memory 2", values, LOAD, atomic=atomic, settle_ms=20.0)
    back = replace(
        recall,
        name="desk memory 1",
        values={"a": True, "b": False, "c": False},
        messages=(Osc("desk", "/memory/load", (1,)),),
    )
    return replace(over_osc(studio), recalls=(recall, back), door_port=1)


SEARCH = Search(swapping())


def test_only_in_one_instant_is_there_a_way() -> None:
    (scene, belief) = SEARCH.studio.scenes["other"], SEARCH.arrived("one")[0]
    way = SEARCH.navigator(belief.machine.knowledge.belief, scene)
    assert isinstance(way, Crossing)
    (leg,) = way.legs
    assert leg.needs_instant
    assert leg.steps[0].recall == SEARCH.studio.recalls[0]
    bit_by_bit = Search(swapping(atomic=False))
    started = belief.machine.knowledge.belief
    assert not isinstance(bit_by_bit.navigator(started, scene), Crossing)


def test_every_fate_of_the_first_packets() -> None:
    runs = list(SEARCH.every_fate("one", "other"))
    assert len(runs) == len(FATES) ** MOST_PACKETS


def test_killed_and_pressed_at_every_boundary() -> None:
    assert SEARCH.every_kill("one", "other", (WELL, LOST, TWICE)) > 20
    assert SEARCH.every_press("one", "other", "one") > 20


def test_no_alarm_while_it_is_under_way_and_none_of_it_is_believed_alone() -> None:
    played, script = SEARCH.arrived("one")
    script.fates = [LOST] * 6
    played.happen(Wanted("other"))
    played.wait(0.15)
    knowledge = played.machine.knowledge
    assert knowledge.belief["a"] == knowledge.belief["b"] == {False, True}
    old, new = knowledge.possible
    assert old["a"] == new["b"] == {True}
    assert old["b"] == new["a"] == {False}
    # One of the answers comes through: the other control is known with it.
    played.happen(Moved("a", value=False))
    (only,) = knowledge.possible
    assert only["b"] == {True}
    played.wait(3.0)
    judged(played)
    told = [m.what.told for m in played.moments if hasattr(m.what, "told")]
    assert Told.ALARM not in told


def test_a_hand_on_one_of_them_ends_that_they_go_together() -> None:
    old = {"a": frozenset({True}), "b": frozenset({False})}
    new = {"a": frozenset({False}), "b": frozenset({True})}
    flying = {"a": frozenset({True, False}), "b": frozenset({False, True})}
    instant = Instant(old, new)
    assert possible(flying, (instant,)) == (old, new)
    moved = instant.widened("b", {False, True})
    assert {tuple(b["b"]) for b in possible(flying, (moved,))} == {(False, True)}
    assert not instant.is_over(flying)
    assert instant.is_over({**flying, **new})


def test_the_guard_asks_what_each_lot_brings_as_one() -> None:
    judge = SEARCH.judge
    belief = {n: frozenset({v}) for n, v in SEARCH.studio.scenes["one"].values.items()}
    both, swapped = {"b": True}, {"a": False, "b": True}
    assert refused_because(judge, belief, tuple(swapped.items()))  # mixtures clip
    assert refused_because(judge, belief, (), [swapped]) == ()
    assert refused_because(judge, belief, (), [both])
    assert refused_because(judge, belief, (("a", True),), [swapped])


def test_the_search_is_not_blind(monkeypatch: pytest.MonkeyPatch) -> None:
    """A desk that sets one after the other, and a profile that says at once."""
    for module in ("bundles", "flight"):
        monkeypatch.setattr(f"bridge.core.{module}.comes_at_once", lambda *_: True)
    search = Search(swapping(atomic=False))
    found = [search.run(*way)[0].broke for way in (("other", "one"), ("one", "other"))]
    assert any(found)


@pytest.mark.parametrize("bound", ["gap", "overlap"])
def test_a_selector_that_takes_its_time_is_never_brought_in_one_instant(
    bound: str,
) -> None:
    studio = swapping()
    controls = {**studio.controls}
    controls["c"] = replace(controls["c"], **{bound: True})  # type: ignore[arg-type]
    search = Search(replace(studio, controls=controls))
    belief = search.arrived("one")[0].machine.knowledge.belief
    assert not isinstance(search.navigator(belief, studio.scenes["other"]), Crossing)
