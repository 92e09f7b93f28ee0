"""A booth whose desk is half for a hand, and people who do as they are told, or not.

A relay and a desk over OSC, of which two switches are for a hand. The person does the
steps in time, too early, by half, never, or says that they are done when they are not.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace

from bridge.core.button import Button, Gesture
from bridge.core.control import Reach
from bridge.core.effects import Done, Tell, Told
from bridge.core.rehearsal import Rehearsal
from bridge.core.studio import Studio
from bridge.core.wire import Contact, Key, Meaning, Osc, Value
from tests.core.sketch import Sketch, gated, selector, switch
from tests.fakes.trial import LATE, LOST, TWICE, WELL, Script, Stage, Trial

GUEST, BELLS = "guest to monitor", "bells to monitor"
QUIET: dict[str, Value] = {"mic to program": False, "out": "phones"}
PEDAL: Key = ("pedal", "midi", b"\xb0\x40")


def booth(**scenes: dict[str, Value]) -> Studio:
    """Host on phones or speakers, far guest and bells; the desk half remote."""
    sketch = Sketch()
    sketch.edge("host.mouth", "mic")
    sketch.edge("mic", "program", 0.0, 0.0, gated("mic to program"))
    sketch.edge("guest.mouth", "pair", 0.0, 90.0)
    sketch.edge("pair", "monitor", 0.0, 0.0, gated(GUEST))
    sketch.edge("bells", "monitor", 0.0, 0.0, gated(BELLS))
    sketch.edge("program", "guest.ear", 0.0, 90.0)
    sketch.edge("monitor", "phones", 0.0, 0.0, gated("out", "phones"))
    sketch.edge("monitor", "speakers", 0.0, 0.0, gated("out", "speakers"))
    sketch.edge("phones", "host.ear")
    sketch.edge("speakers", "host.ear")
    sketch.edge("speakers", "mic", -16.0, 4.0)
    desk = Osc("desk", "/mic/program")
    made = sketch.studio(
        switch(
            "mic to program",
            at_power_up=False,
            messages={v: (replace(desk, arguments=(int(v),)),) for v in (False, True)},
            ask=(desk,),
            settle_ms=2.0,
            hold_off_ms=50.0,
        ),
        switch(GUEST, reach=Reach.HAND),
        switch(BELLS, reach=Reach.HAND),
        selector(
            "out",
            "phones",
            "speakers",
            at_rest="phones",
            at_power_up="phones",
            messages={
                "phones": (Contact("out", high=False),),
                "speakers": (Contact("out", high=True),),
            },
            settle_ms=10.0,
            gap=True,
        ),
        sources=[
            sketch.source("host", "host.mouth", person="host"),
            sketch.source("guest", "guest.mouth", person="guest"),
            sketch.source("bells", "bells"),
        ],
        listeners=[
            sketch.listener("host", "host.ear", person="host"),
            sketch.listener("guest", "guest.ear", person="guest", far=True),
        ],
        scenes=scenes,
    )
    meaning = Meaning("mic to program", ((0.0, False), (1.0, True)))
    rounds = {Gesture.TAP: ("call", "aloud"), Gesture.HOLD: ("quiet",)}
    return replace(
        made,
        meanings={("desk", "osc", "/mic/program"): (meaning,)},
        buttons=(Button("pedal", PEDAL, 64, rounds),),
    )


STUDIO = booth(
    quiet={**QUIET, GUEST: False, BELLS: False},
    call={**QUIET, "mic to program": True, GUEST: True, BELLS: True},
    aloud={**QUIET, "out": "speakers", GUEST: False, BELLS: True},
)
PAIRS = list(itertools.permutations(STUDIO.scenes, 2))

Person = Callable[[Rehearsal], None]
"""What somebody does at a moment of the crossing."""


def asked_of(played: Rehearsal) -> dict[str, Value]:
    """All that this crossing asks of a hand, now or later."""
    hands = played.machine.hands
    return {c.control: c.value for c in (*hands.asked, *hands.to_come)}


def does(count: int, *, says: bool) -> Person:
    """Sets so many of the controls, and perhaps says that all is done."""

    def act(played: Rehearsal) -> None:
        for name, value in list(asked_of(played).items())[:count]:
            played.hand(name, value)
        if says:
            played.happen(Done())

    return act


def nothing(played: Rehearsal) -> None:
    del played


PEOPLE: dict[str, Person] = {
    "never": nothing,
    "does it and says so": does(2, says=True),
    "does it and says nothing": does(2, says=False),
    "does half of it": does(1, says=False),
    "says so and has done half": does(1, says=True),
    "says so and has done nothing": does(0, says=True),
}
HONEST = [name for name in PEOPLE if not name.startswith("says so")]
FATES = {
    name: (WELL, LOST, LATE, TWICE) if name.startswith("says so") else (WELL,)
    for name in PEOPLE
}


class WithAPerson(Stage):
    """A stage on which a person who does as they are told has led to each scene."""

    def reach(self, trial: Trial, scene: str) -> None:
        super().reach(trial, scene)
        does(2, says=True)(trial)
        trial.wait(1.0)


STAGE = WithAPerson(STUDIO)


def in_scene(start: str, stage: Stage = STAGE) -> tuple[Trial, Script]:
    """A service at rest in a scene."""
    trial = stage.arrived(start)
    return trial, trial.script


def truth_is_believed(played: Rehearsal) -> None:
    belief = played.machine.knowledge.belief
    for name, value in played.world.true.items():
        assert value in belief[name], (name, value, belief[name])


def truth_is_believed_but(played: Rehearsal, *said: str) -> None:
    """All but what a person has said without doing it."""
    belief = played.machine.knowledge.belief
    for name, value in played.world.true.items():
        assert name in said or value in belief[name]


def told(played: Rehearsal, *kinds: Told) -> list[str]:
    return [
        moment.what.words
        for moment in played.moments
        if isinstance(moment.what, Tell) and moment.what.told in kinds
    ]
