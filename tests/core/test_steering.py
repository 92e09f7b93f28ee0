"""What comes in between while a crossing is under way: presses, hands, lost gear."""

from bridge.core.belief import Belief
from bridge.core.button import Gesture
from bridge.core.control import Scene
from bridge.core.crossing import Crossing
from bridge.core.effects import ENDS, NotSent, PortFound, PortLost, Said, Told
from bridge.core.finding import Finding
from bridge.core.flight import HAND_S
from bridge.core.ground import Ground
from bridge.core.leg import Change, Leg, Step, Why
from bridge.core.table import State
from bridge.core.wire import Contact, Osc
from tests.fakes.stage import Stage, changes, started
from tests.fakes.studio import studio

MIC_OFF, MIC_ON = Osc("desk", "/mic", (0.0,)), Osc("desk", "/mic", (1.0,))
PULL = Contact("relay", high=True)


# A press while a crossing is under way


def test_the_newest_press_wins_at_the_next_boundary() -> None:
    stage = started("phones")
    stage.desk.fate = lambda: (0.010,)
    stage.go("speakers", ticket=1)
    stage.go("talkback", ticket=2)
    stage.go("call", ticket=3)
    assert stage.ends(2) == [Told.SUPERSEDED]
    stage.run(2.0)
    assert PULL not in changes(stage)
    assert [stage.ends(n) for n in (1, 2, 3)] == [
        [Told.SUPERSEDED],
        [Told.SUPERSEDED],
        [Told.ARRIVED],
    ]
    assert "call" in stage.machine.scenes_in_force


def test_two_quick_taps_go_two_scenes_on() -> None:
    tap = {Gesture.TAP: ("quiet", "phones", "call")}
    stage = Stage(studio(start="quiet", pedal=tap))
    stage.start()
    stage.desk.fate = lambda: (0.010,)
    stage.press()
    stage.press()
    stage.run(2.0)
    assert "call" in stage.machine.scenes_in_force


def test_a_newer_wish_that_is_refused_changes_nothing() -> None:
    stage = started("phones")
    stage.desk.fate = lambda: (0.010,)
    stage.go("speakers", ticket=1)
    stage.go("bad", ticket=2)
    stage.run(2.0)
    assert stage.ends(1) == [Told.ARRIVED]
    assert stage.ends(2) == [Told.REFUSED]


def test_a_press_during_the_last_leg_lets_the_scene_arrive_first() -> None:
    stage = started("quiet")
    stage.go("phones", ticket=1)
    stage.go("call", ticket=2)
    stage.run(2.0)
    assert [t.told for t in stage.told if t.told in ENDS] == [
        Told.ARRIVED,
        Told.ARRIVED,
    ]


def test_a_press_need_not_wait_for_what_was_not_sent_yet() -> None:
    stage = started("quiet")
    only_mic = Stage(studio(scenes={"on": {"mic": True}, "off": {"mic": False}}))
    only_mic.start()
    only_mic.go("on", ticket=1)
    only_mic.run(0.006)
    only_mic.go("off", ticket=2)
    assert only_mic.machine.heading == "off"
    assert MIC_OFF not in changes(only_mic)
    only_mic.go("on", ticket=3)
    assert only_mic.ends(3) == [Told.ARRIVED]
    assert only_mic.ends(2) == [Told.SUPERSEDED]
    assert stage.state() is State.RESTING


# The guard


def bad_plan(_: Belief, scene: Scene) -> Crossing | Finding:
    """A planner with a bug: it opens everything at once."""
    steps = tuple(
        Step((Change(name, value, frozenset()),), Why.OPEN)
        for name, value in scene.values.items()
    )
    return Crossing((Leg(steps, "I was told that it is safe"),), dict(scene.values))


def test_a_plan_that_the_guard_refuses_is_never_sent() -> None:
    stage = Stage(studio(), plans=bad_plan)
    stage.start()
    stage.go("bad", ticket=1)
    stage.run(1.0)
    assert changes(stage) == []
    assert stage.state() is State.HALTED
    (told,) = stage.of(Told.HALTED)
    assert told.words == ("on the way to bad: the guard refuses what might break howl")
    assert told.rules == ("howl",)
    assert stage.ends(1) == [Told.HALTED]


def test_a_plan_overtaken_by_a_hand_is_made_anew_once() -> None:
    stage = started("quiet")
    stage.desk.fate = lambda: (0.010,)
    stage.go("speakers", ticket=1)
    # The relay opens in the one leg there is; nothing of it was sent when the
    # microphone is put in by hand: the belief has changed at the boundary.
    stage.run(0.001)
    stage.desk.move("mic", True, stage.now)
    stage.run(3.0)
    assert stage.ends(1) == [Told.ARRIVED]
    assert stage.desk.true["mic"] is False


def test_a_hand_that_will_not_rest_ends_the_planning() -> None:
    stage = started("quiet")
    stage.go("call", ticket=1)
    for step in range(400):
        if stage.state() is not State.CROSSING:
            break
        stage.desk.move("mic", step % 2 == 0, stage.now)
        stage.run(0.010)
    assert stage.ends(1) in ([Told.HALTED], [Told.ARRIVED])
    assert stage.state() in (State.HALTED, State.RESTING)


# Gear that goes


def test_a_port_lost_on_the_way_halts_in_words() -> None:
    stage = started("phones")
    stage.desk.fate = lambda: (0.010,)
    stage.go("speakers", ticket=1)
    stage.unplug()
    assert stage.state() is State.HALTED
    assert stage.words(Told.HALTED) == [
        "on the way to speakers: desk is not there any more: cable pulled"
    ]
    assert stage.values("mic") == {False, True}
    stage.run(5.0)
    assert PULL not in changes(stage)


def test_a_port_that_takes_no_message_halts_in_words() -> None:
    stage = started("phones")
    stage.desk.fate = lambda: ()
    stage.go("speakers", ticket=1)
    stage.happen(NotSent("desk", "desk: no route"))
    assert stage.state() is State.HALTED
    assert stage.values("mic") == {False, True}
    assert stage.words(Told.HALTED) == [
        "on the way to speakers: a message was not taken: desk: no route"
    ]


def test_a_port_that_is_not_on_the_way_may_go() -> None:
    stage = started("phones")
    stage.desk.fate = lambda: (0.010,)
    stage.go("call", ticket=1)
    stage.happen(PortLost("strip", "cable pulled"))
    stage.happen(NotSent("strip", "gone"))
    stage.run(1.0)
    assert stage.ends(1) == [Told.ARRIVED]


def test_a_port_is_told_lost_and_found_once_each() -> None:
    stage = started()
    for _ in range(2):
        stage.happen(PortLost("desk", "cable pulled"))
    for _ in range(2):
        stage.happen(PortFound("desk"))
    assert stage.words(Told.PORT_LOST) == ["desk is not there: cable pulled"]
    assert stage.words(Told.PORT_FOUND) == ["desk is there"]


# Hand controls


def test_what_is_set_by_hand_is_asked_for_and_waited_for() -> None:
    stage = started("phones")
    stage.go("padded", ticket=1)
    stage.run(1.0)
    assert stage.words(Told.BY_HAND) == ["press the pad button in"]
    assert stage.values("pad") == {False, True}
    assert stage.ends(1) == []
    stage.happen(Said("pad", True))
    stage.run(1.0)
    assert stage.ends(1) == [Told.ARRIVED]
    assert stage.machine.knowledge["pad"].ground is Ground.SAID


def test_a_press_need_not_wait_for_a_hand() -> None:
    stage = started("phones")
    stage.go("padded", ticket=1)
    stage.run(1.0)
    stage.go("call", ticket=2)
    stage.run(1.0)
    assert stage.ends(2) == [Told.ARRIVED]
    assert stage.values("pad") == {False, True}


def test_a_hand_that_does_nothing_ends_the_crossing() -> None:
    stage = started("phones")
    stage.go("padded", ticket=1)
    stage.run(HAND_S + 1.0)
    assert stage.state() is State.HALTED
    assert stage.words(Told.HALTED) == [
        "on the way to padded: pad: nobody said that it is done"
    ]


def test_nobody_can_say_what_only_the_gear_can_know() -> None:
    stage = started("phones")
    stage.happen(Said("mic", False))
    assert stage.values("mic") == {True}
