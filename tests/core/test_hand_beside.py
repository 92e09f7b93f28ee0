"""A step by hand in one leg with messages: a newer wish waits for these, not for it."""

from __future__ import annotations

from dataclasses import replace

from bridge.core.control import Reach
from bridge.core.demand import Demand, Sentence
from bridge.core.effects import Told, Wanted
from bridge.core.studio import Studio
from bridge.core.wire import Key, Meaning, Osc
from tests.core.sketch import Sketch, gated, switch
from tests.fakes.fault_search import Search
from tests.fakes.trial import FATES


def two_ways() -> Studio:
    """The tape hears the host by a message's way or a hand's, and music beside it."""
    sketch = Sketch()
    for source, name in (("host", "desk"), ("host", "hand"), ("music", "music")):
        sketch.edge(source, "tape", 0.0, 0.0, gated(name))
    by_desk = {"desk": True, "hand": False, "music": False}
    studio = sketch.studio(
        switch("desk", at_power_up=True),
        switch("hand", at_power_up=False, reach=Reach.HAND),
        switch("music", at_power_up=False),
        sources=[sketch.source("host", "host"), sketch.source("music", "music")],
        listeners=[sketch.listener("tape", "tape", far=True)],
        scenes={"one": by_desk, "two": {n: not on for n, on in by_desk.items()}},
        sentences=[Sentence(Demand.KEEP, "tape", "host", "tape hears host")],
        start="one",
    )
    controls, meanings = dict(studio.controls), dict[Key, tuple[Meaning, ...]]()
    for name in ("desk", "music"):
        at = f"/{name}"
        controls[name] = replace(
            controls[name],
            messages={on: (Osc("box", at, (float(on),)),) for on in (False, True)},
            ask=(Osc("box", at),),
            hold_off_ms=50.0,
        )
        meanings["box", "osc", at] = (Meaning(name, ((0.0, False), (1.0, True))),)
    return replace(studio, controls=controls, meanings=meanings, door_port=1)


def test_a_newer_wish_waits_for_what_was_sent_and_not_for_the_hand() -> None:
    search = Search(two_ways())
    for fate in FATES:
        for at in (0.0, 0.0005, 0.002, 0.05, 0.2, 1.0):
            played, script = search.arrived("one")
            script.fates = [fate] * 4
            first = len(played.moments)
            played.happen(Wanted("two"))
            played.wait(at)
            played.happen(Wanted("one"))
            played.wait(2.0)
            told = [getattr(m.what, "told", None) for m in played.moments[first:]]
            assert Told.SUPERSEDED in told, (fate, at)
            assert played.machine.heading == "one"  # the hand may have begun already
            assert not played.world.true["music"]
            assert played.broke == []
