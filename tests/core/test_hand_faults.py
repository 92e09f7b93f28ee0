"""Steps by hand, whatever the person does: every behaviour at every boundary.

A booth with a relay and a desk over OSC, of which two switches are for a hand. The
person does the steps in time, too early, by half, never, or says that they are done
when they are not; packets are lost, late and doubled; the service is killed. No state
that truly is may break a never-rule, and nothing is believed that nobody has said.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace

import pytest

from bridge.core import crossing
from bridge.core.button import Button, Gesture
from bridge.core.control import Reach
from bridge.core.effects import Done, Pressed, Said, Tell, Told, Wanted
from bridge.core.guard import Judge
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.proof import Proof, prove
from bridge.core.rehearsal import Rehearsal
from bridge.core.studio import Studio
from bridge.core.table import State
from bridge.core.wire import Contact, Key, Meaning, Osc, Value
from tests.core.sketch import Sketch, gated, selector, switch
from tests.fakes.trial import LATE, LOST, TWICE, WELL, Script, Stage, Trial

pytestmark = pytest.mark.long

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


def boundaries(start: str, goal: str) -> list[float]:
    """Just before and after each moment at which something happens."""
    played, _ = in_scene(start)
    begin, first = played.now, len(played.moments)
    played.happen(Wanted(goal))
    played.wait(1.0)
    times = {moment.at - begin for moment in played.moments[first:]} | {1.0}
    return sorted({max(0.0, t + d) for t in times for d in (-1e-4, 1e-4)})


def proof_of(studio: Studio) -> Proof:
    judge = HouseJudge(studio)
    return prove(judge, Planner(judge))


def test_the_studio_is_proved_and_waits_for_hands() -> None:
    found = proof_of(STUDIO)
    assert found.holds, found.findings
    # from each scene to each other, and to each from power-up and from the unknown
    assert found.by_hand == len(PAIRS) + 2 * len(STUDIO.scenes)


@pytest.mark.parametrize(("start", "goal"), PAIRS)
def test_whatever_a_person_does_at_every_boundary(start: str, goal: str) -> None:
    for (name, person), at in itertools.product(
        PEOPLE.items(), boundaries(start, goal)
    ):
        for fate in FATES[name]:
            played, script = in_scene(start)
            script.fates = [fate] * 4
            played.happen(Wanted(goal))
            played.wait(at)
            person(played)
            played.wait(2.0)
            assert played.broke == [], (name, at)
            if name in HONEST:
                truth_is_believed(played)
            does(2, says=True)(played)
            played.wait(2.0)
            assert played.broke == []
            assert goal in played.machine.scenes_in_force, (name, at)


@pytest.mark.parametrize(("start", "goal"), PAIRS)
def test_killed_at_every_boundary_nobody_pretends_to_know(
    start: str, goal: str
) -> None:
    """Only a person can look at the switches: after a kill they are not known."""
    for count, at in itertools.product((0, 1, 2), boundaries(start, goal)):
        played, _ = in_scene(start)
        played.happen(Wanted(goal))
        played.wait(at)
        does(count, says=False)(played)
        played.kill(0.5)
        assert played.broke == []
        truth_is_believed(played)
        hands = played.machine.hands
        told = {c.control for c in (*hands.asked, *hands.to_come)}
        assert {c.name for c in hands.unsure} | told == {GUEST, BELLS}
        for name in (GUEST, BELLS):
            played.happen(Said(name, played.world.true[name]))
        assert played.machine.hands.unsure == ()
        played.happen(Wanted(start))
        played.wait(1.0)
        does(2, says=True)(played)
        played.wait(2.0)
        assert played.broke == []
        assert start in played.machine.scenes_in_force


@pytest.mark.parametrize(("start", "goal"), PAIRS)
def test_a_newer_wish_wins_over_one_that_waits(start: str, goal: str) -> None:
    for newer, count in itertools.product(STUDIO.scenes, (0, 1, 2)):
        played, _ = in_scene(start)
        played.happen(Wanted(goal))
        played.wait(1.0)
        does(count, says=False)(played)
        played.happen(Wanted(newer))
        played.wait(1.0)
        truth_is_believed(played)
        does(2, says=True)(played)
        played.wait(1.0)
        assert played.broke == []
        assert newer in played.machine.scenes_in_force


def told(played: Rehearsal, *kinds: Told) -> list[str]:
    return [
        moment.what.words
        for moment in played.moments
        if isinstance(moment.what, Tell) and moment.what.told in kinds
    ]


def test_it_says_what_a_hand_must_do_before_anything_is_sent() -> None:
    played, _ = in_scene("quiet")
    first = len(played.moments)
    played.happen(Wanted("call"))
    sent = [
        n
        for n, m in enumerate(played.moments)
        if isinstance(m.what, Osc | Contact) and n >= first
    ]
    before = played.moments[first].what
    assert isinstance(before, Tell)
    assert before.words == (
        "to call: 3 steps in 2 legs, 2 by hand: set bells to monitor to on (desk); "
        "set guest to monitor to on (desk)"
    )
    assert sent[0] > first
    # The messages go before the hand is waited for, and nothing is waited for them.
    assert played.machine.hands.asked == ()
    assert len(played.machine.hands.to_come) == 2
    played.wait(0.4)
    assert played.world.true["mic to program"] is True
    assert len(played.machine.hands.asked) == 2


def press(played: Rehearsal, gesture: Gesture = Gesture.TAP) -> None:
    played.happen(Pressed("pedal", gesture))


def test_a_press_of_the_same_button_says_that_it_is_done() -> None:
    played, _ = in_scene("quiet")
    press(played)
    played.wait(2.0)
    assert played.machine.state is State.CROSSING
    press(played)
    assert played.machine.scenes_in_force == ("call",)
    assert told(played, Told.DONE_BY_HAND)[-1].startswith("said to be done: set bells")


def test_an_impatient_second_press_is_no_word() -> None:
    """Nobody sets two switches in a third of a second: it goes on to the next scene."""
    played, _ = in_scene("quiet")
    press(played)
    played.wait(0.3)
    press(played)
    played.wait(1.0)
    assert played.machine.heading == "aloud"
    assert played.machine.scenes_in_force == ()


def test_another_button_and_a_name_are_no_word() -> None:
    studio = replace(
        STUDIO,
        buttons=(
            *STUDIO.buttons,
            Button("pad", ("pad", "midi", b"\x90\x24"), 1, {Gesture.TAP: ("quiet",)}),
        ),
    )
    played, _ = in_scene("quiet", WithAPerson(studio))
    press(played)
    played.wait(2.0)
    played.happen(Pressed("pad", Gesture.TAP))
    played.wait(1.0)
    assert played.machine.heading == "quiet"
    played.happen(Wanted("call"))
    played.wait(1.0)
    assert played.machine.heading == "call"


def test_a_hold_that_leads_away_takes_its_first_touch_back() -> None:
    """The foot comes down, which says "done", and stays: it meant to go away."""
    played, _ = in_scene("quiet")
    press(played)
    played.wait(2.0)
    press(played)
    assert played.machine.scenes_in_force == ("call",)
    played.wait(0.6)
    press(played, Gesture.HOLD)
    played.wait(1.0)
    truth_is_believed(played)
    assert played.machine.heading == "quiet"
    assert {c.control for c in played.machine.hands.asked} == {GUEST, BELLS}


def test_a_hold_that_led_here_may_say_it_too() -> None:
    """Its first touch is a tap, which says "done"; what follows leads nowhere else."""
    played, _ = in_scene("call")
    for _ in range(2):
        press(played)
        played.wait(0.6)
        press(played, Gesture.HOLD)
        played.wait(2.0)
    assert played.machine.scenes_in_force == ("quiet",)
    assert len(told(played, Told.DONE_BY_HAND)) == 1
    truth_is_believed_but(played, GUEST, BELLS)


def test_what_was_said_early_is_not_asked_again() -> None:
    played, _ = in_scene("quiet")
    played.happen(Said(GUEST, value=True))
    played.happen(Wanted("call"))
    played.wait(1.0)
    assert [c.control for c in played.machine.hands.asked] == [BELLS]


def test_done_is_refused_when_nothing_is_asked() -> None:
    played, _ = in_scene("quiet")
    played.happen(Done(ticket=7))
    assert told(played, Told.REFUSED) == ["nothing is asked of a hand now"]


# Where a hand would have to protect somebody

LIVE = booth(
    quiet={**QUIET, GUEST: False, BELLS: False},
    call={**QUIET, "mic to program": True, GUEST: True, BELLS: False},
    # the microphone is open, and only the hand keeps the guest off the speakers
    aloud={"mic to program": True, "out": "speakers", GUEST: False, BELLS: False},
)


def test_a_hand_that_would_protect_is_found_with_both_rules() -> None:
    found = [f for f in proof_of(LIVE).findings if f.rule == "unsafe-step-by-hand"]
    by_way = {f.where: f for f in found}
    unknown = "the start to aloud"
    assert set(by_way) == {"call to aloud", "aloud to call", unknown}
    words = by_way["call to aloud"].message
    assert "guest to monitor is set by hand, and forgotten it breaks" in words
    assert "done too early" not in words
    assert "done too early it breaks" in by_way["aloud to call"].message
    assert "own-voice-late: guest" in words
    assert by_way["call to aloud"].cure.startswith("go to quiet first")


def test_it_is_refused_before_anything_is_sent() -> None:
    played, _ = in_scene("call", WithAPerson(LIVE))
    first = len(played.moments)
    played.happen(Wanted("aloud"))
    played.wait(1.0)
    assert len(played.moments) == first + 1
    assert told(played, Told.REFUSED)[-1].startswith(
        "aloud is refused: scene aloud is not allowed: guest to monitor is set by hand"
    )


def test_the_search_is_not_blind(monkeypatch: pytest.MonkeyPatch) -> None:
    """With hands taken at their word, the same people make the guest hear itself."""

    def trusting(judge: Judge, _: object) -> Judge:
        return judge

    monkeypatch.setattr(crossing, "unsafe_because", lambda *_: None)
    monkeypatch.setattr(crossing, "AtAnyMoment", trusting)
    stage = WithAPerson(LIVE)
    found: dict[str, int] = {}
    for name, person in PEOPLE.items():
        played, _ = in_scene("call", stage)
        played.happen(Wanted("aloud"))
        played.wait(1.0)
        person(played)
        played.wait(1.0)
        found[name] = len(played.broke)
    assert found["says so and has done nothing"] > 0
    assert found["does it and says so"] == 0
