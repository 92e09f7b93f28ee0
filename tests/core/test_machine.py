"""The machine and its gear on one simulated clock: starting, crossing, stopping."""

from typing import cast

from bridge.core.belief import Belief
from bridge.core.button import Gesture
from bridge.core.control import Scene
from bridge.core.crossing import Crossing
from bridge.core.effects import (
    ENDS,
    Began,
    NotSent,
    PortFound,
    PortLost,
    Pressed,
    Said,
    Told,
)
from bridge.core.finding import Finding
from bridge.core.flight import HAND_S, TRIES
from bridge.core.knowledge import Ground
from bridge.core.leg import Change, Leg, Step, Why
from bridge.core.lifetime import START_S, STOP_S
from bridge.core.table import State
from bridge.core.wire import Contact, Message, Midi, Osc
from tests.fakes.stage import Stage, started
from tests.fakes.studio import DIM, LIFE_MS, RELAY, TRIM, osc_switch, studio

MIC_OFF, MIC_ON = Osc("desk", "/mic", (0.0,)), Osc("desk", "/mic", (1.0,))
RELEASE, PULL = Contact("relay", high=False), Contact("relay", high=True)
LIFE_S = LIFE_MS / 1000
ONE_WAY = (TRIM, DIM, RELAY)
DESK = tuple(osc_switch(name) for name in ("mic", "guest", "talk"))


def changes(stage: Stage) -> list[Message]:
    """What was sent, without the questions."""
    return [m for _, m in stage.sent if not (isinstance(m, Osc) and not m.arguments)]


# Starting


def test_gear_is_asked_and_then_brought_to_the_start_scene() -> None:
    stage = Stage(studio(start="phones"), true={"guest": False, "talk": True})
    stage.start()
    assert stage.machine.scenes_in_force == ("phones", "talkback")
    assert stage.desk.true["mic"] is True
    assert stage.values("talk") == {True}
    assert stage.machine.knowledge["talk"].ground is Ground.CONFIRMED
    assert stage.words(Told.ARRIVED) == ["phones is in force"]


def test_nothing_is_known_before_anything_is_heard() -> None:
    stage = Stage(studio())
    stage.happen(Began())
    belief = stage.machine.knowledge.belief
    unsure = {name for name, values in belief.items() if len(values) > 1}
    assert unsure == {"mic", "guest", "talk", "relay", "trim", "dim"}
    assert stage.machine.knowledge["pad"].ground is Ground.DESCRIBED


def test_a_contact_is_at_rest_once_its_line_is_there() -> None:
    stage = Stage(studio())
    stage.start("relay")
    assert stage.values("relay") == {"rest"}
    assert stage.machine.knowledge["relay"].ground is Ground.AT_REST


def test_without_a_start_scene_nothing_is_changed() -> None:
    stage = Stage(studio())
    stage.start()
    assert (stage.state(), changes(stage)) == (State.RESTING, [])


def test_starting_ends_in_time_when_a_port_says_nothing() -> None:
    stage = Stage(studio(start="quiet"))
    stage.happen(Began())
    stage.run(START_S - 0.01)
    assert stage.state() is State.STARTING
    stage.run(0.02)
    assert stage.state() is State.RESTING
    assert changes(stage) == []
    (refused,) = stage.of(Told.REFUSED)
    assert refused.words == (
        "quiet is refused: it needs what is not there: desk (not opened yet), "
        "relay (not opened yet), strip (not opened yet)"
    )


def test_the_start_scene_waits_for_the_slowest_port() -> None:
    stage = Stage(studio(start="quiet", controls=(*ONE_WAY, *DESK)))
    stage.happen(Began())
    stage.happen(PortFound("strip"))
    stage.run(1.0)
    assert stage.of(Told.REFUSED) == []
    assert changes(stage) == []
    stage.happen(PortFound("relay"))
    stage.happen(PortFound("desk"))
    stage.run(1.0)
    assert "quiet" in stage.machine.scenes_in_force


def test_gear_that_is_switched_on_later_is_brought_to_the_start_scene() -> None:
    stage = Stage(studio(start="quiet"), true={"mic": True})
    stage.happen(Began())
    stage.happen(PortFound("strip"))
    stage.happen(PortFound("relay"))
    stage.desk.unplug()
    stage.happen(PortLost("desk", "no such address"))
    stage.run(60.0)
    assert stage.desk.true["mic"] is True
    stage.plug_in()
    stage.run(1.0)
    assert stage.desk.true["mic"] is False
    assert stage.machine.scenes_in_force == ("quiet",)


def test_gear_that_comes_back_later_is_asked_and_left_alone() -> None:
    stage = started("phones")
    stage.unplug()
    assert stage.values("mic") == {False, True}
    assert stage.machine.knowledge["mic"].ground is Ground.LOST
    stage.desk.true["mic"] = False
    stage.plug_in()
    stage.run(1.0)
    assert stage.values("mic") == {False}
    assert changes(stage) == []


def test_a_silent_desk_is_asked_so_often_and_told_once() -> None:
    stage = Stage(studio())
    stage.desk.is_deaf = True
    stage.start()
    asked = [m for _, m in stage.sent if m == Osc("desk", "/mic")]
    assert len(asked) == TRIES
    assert stage.state() is State.RESTING
    assert stage.machine.knowledge["mic"].ground is Ground.SILENT
    stage.run(60.0)
    assert stage.words(Told.SILENT) == ["desk does not answer: 3 controls unknown"]


def test_a_desk_that_wakes_up_is_heard_at_the_next_question() -> None:
    stage = Stage(studio())
    stage.desk.is_deaf = True
    stage.start()
    stage.desk.is_deaf = False
    stage.run(15.0)
    assert stage.values("mic") == {False}


def test_a_desk_that_falls_silent_at_rest_is_not_believed_any_more() -> None:
    stage = started("phones")
    stage.desk.is_deaf = True
    stage.run(15.0)
    assert stage.values("mic") == {False, True}
    assert stage.machine.scenes_in_force == ()


def test_a_press_while_starting_is_taken_when_the_gear_has_answered() -> None:
    stage = Stage(studio(start="quiet"))
    stage.happen(Began())
    stage.press(ticket=1)
    assert stage.state() is State.STARTING
    for port in ("desk", "strip", "relay"):
        stage.happen(PortFound(port))
    stage.run(1.0)
    assert stage.machine.scenes_in_force == ("phones",)
    assert stage.ends(1) == [Told.ARRIVED]


def test_gear_just_powered_is_believed_to_be_as_it_guarantees() -> None:
    from bridge.core.machine import Machine
    from tests.fakes.studio import JUDGE, navigator

    of = studio()
    machine = Machine(of, JUDGE, navigator(of, JUDGE), 0.0, powered=["changeover"])
    assert machine.knowledge.belief["relay"] == {"rest"}
    assert machine.knowledge["relay"].ground is Ground.POWER_UP


# A press


def test_a_press_is_sent_in_the_same_breath() -> None:
    stage = started("quiet")
    stage.press()
    assert stage.state() is State.CROSSING
    assert MIC_ON in changes(stage)


def test_a_round_goes_on_from_the_scene_in_force_and_else_to_its_first() -> None:
    stage = started("quiet")
    reached: list[str] = []
    for _ in range(3):
        stage.press()
        stage.run(2.0)
        reached += stage.machine.scenes_in_force
    assert reached == ["phones", "speakers", "phones"]


def test_scenes_that_hold_at_once_are_told_apart_by_the_last_one_reached() -> None:
    tap = {Gesture.TAP: ("small", "large", "other")}
    scenes = {
        "small": {"mic": True},
        "large": {"mic": True, "guest": True},
        "other": {"mic": False},
    }
    stage = Stage(studio(pedal=tap, scenes=scenes))
    stage.start()
    reached: list[str] = []
    for _ in range(4):
        stage.press()
        stage.run(2.0)
        reached.append(stage.words(Told.ARRIVED)[-1].split()[0])
    assert reached == ["small", "large", "other", "small"]


def test_a_scene_that_is_refused_sends_nothing_and_says_why() -> None:
    stage = started("phones")
    stage.go("bad", ticket=7)
    stage.run(1.0)
    assert stage.sent == []
    assert stage.state() is State.RESTING
    (told,) = stage.of(Told.REFUSED)
    assert told.ticket == 7
    assert told.scene == "bad"
    assert "howl" in told.words


def test_an_unknown_scene_is_answered_with_the_known_ones() -> None:
    stage = started()
    stage.go("fones", ticket=1)
    (words,) = stage.words(Told.REFUSED)
    assert words.startswith("there is no scene 'fones'; there are quiet, phones, ")


def test_an_unknown_button_or_gesture_is_answered_with_the_known_ones() -> None:
    stage = started()
    stage.happen(Pressed("pedals", Gesture.TAP, 1))
    stage.happen(Pressed("pedal", Gesture.DOUBLE, 2))
    assert stage.words(Told.REFUSED) == [
        "there is no button 'pedals'; there are pedal, pads",
        "pedal has no double; it has tap, hold",
    ]


def test_a_scene_in_force_already_sends_nothing_and_has_arrived() -> None:
    stage = started("phones")
    stage.go("phones", ticket=3)
    assert (stage.sent, stage.ends(3)) == ([], [Told.ARRIVED])


def test_a_scene_that_needs_absent_gear_is_refused_in_words() -> None:
    stage = started("phones")
    stage.unplug()
    stage.go("speakers", ticket=4)
    (told,) = stage.of(Told.REFUSED)
    assert told.words == (
        "speakers is refused: it needs what is not there: desk (cable pulled)"
    )
    assert told.cure == "see that it is on and plugged in: desk"
    assert changes(stage) == []


def test_gear_that_is_absent_and_not_needed_is_no_hindrance() -> None:
    stage = started("phones")
    stage.happen(PortLost("strip", "cable pulled"))
    stage.go("call", ticket=1)
    stage.run(1.0)
    assert stage.ends(1) == [Told.ARRIVED]


# Legs


def test_the_cut_is_confirmed_and_settled_before_the_open_is_sent() -> None:
    stage = started("phones")
    stage.desk.fate = lambda: (0.010,)
    stage.go("speakers")
    begun = stage.now
    stage.run(2.0)
    times = {message: at - begun for at, message in stage.sent}
    # 10 ms there, 10 ms back, then 5 ms for the sound to follow; the strip, which goes
    # by MIDI in the same leg, needs 20 ms, and 12 for what a sound server may wait.
    assert times[MIC_OFF] == 0.0
    assert abs(times[PULL] - 0.032) < 1e-9


def test_a_lost_cut_is_sent_again_and_the_open_waits_for_it() -> None:
    stage = started("phones")
    lost = iter([True, False, True, True])
    stage.desk.fate = lambda: () if next(lost, False) else (0.0,)
    stage.go("speakers", ticket=1)
    stage.run(2.0)
    sent = changes(stage)
    assert sent.count(MIC_OFF) == 3
    assert sent.index(PULL) > max(i for i, m in enumerate(sent) if m == MIC_OFF)
    assert stage.ends(1) == [Told.ARRIVED]


def test_a_cut_that_is_never_confirmed_halts_and_stays_doubtful() -> None:
    stage = started("phones")
    stage.desk.is_deaf = True
    stage.go("speakers", ticket=1)
    stage.run(1.1)
    assert stage.state() is State.HALTED
    assert changes(stage).count(MIC_OFF) == TRIES
    assert PULL not in changes(stage)
    assert stage.values("mic") == {False, True}
    assert stage.machine.knowledge["mic"].ground is Ground.UNCONFIRMED
    (told,) = stage.of(Told.HALTED)
    assert told.words == (
        "on the way to speakers: mic switch: sent 5 times and never confirmed"
    )
    assert told.cure == "see that desk is on and its cables are in, then press again"
    assert stage.ends(1) == [Told.HALTED]


def test_after_a_halt_the_next_press_starts_from_what_is_known_then() -> None:
    stage = started("phones")
    stage.desk.is_deaf = True
    stage.go("speakers")
    stage.run(1.1)
    stage.desk.is_deaf = False
    stage.go("speakers", ticket=2)
    stage.run(2.0)
    assert stage.ends(2) == [Told.ARRIVED]
    assert stage.state() is State.RESTING


def test_a_halted_crossing_has_arrived_if_the_gear_says_so_in_the_end() -> None:
    stage = started("quiet")
    sent = 0

    def answers_are_lost() -> tuple[float, ...]:
        nonlocal sent
        sent += 1
        return (0.0,) if sent == 1 else ()

    stage.desk.fate = answers_are_lost
    stage.go("phones")
    stage.run(1.1)
    assert stage.state() is State.HALTED
    stage.desk.fate = lambda: (0.0,)
    stage.run(1.0)
    assert stage.state() is State.RESTING
    assert stage.machine.scenes_in_force == ("phones",)


def test_gear_that_cannot_answer_is_believed_when_it_has_settled() -> None:
    stage = Stage(studio(scenes={"loud": {"trim": 0.0}}))
    stage.start()
    stage.go("loud")
    assert stage.values("trim") == {-20.0, -10.0, 0.0}
    stage.run(0.031)
    assert stage.values("trim") == {-20.0, -10.0, 0.0}
    stage.run(0.002)
    assert stage.values("trim") == {0.0}
    assert stage.machine.knowledge["trim"].ground is Ground.SETTLED


def test_a_port_that_needs_time_gets_it_between_two_messages() -> None:
    stage = started("quiet")
    stage.press()
    stage.run(1.0)
    at_strip = [at for at, message in stage.sent if isinstance(message, Midi)]
    assert len(at_strip) == 2
    assert abs(at_strip[1] - at_strip[0] - 0.002) < 1e-9


def test_a_different_value_waits_until_nothing_old_can_arrive() -> None:
    stage = started("quiet")
    stage.desk.fate = lambda: (0.004,)
    stage.press()
    stage.run(0.030)
    stage.go("quiet")
    stage.run(2.0)
    at = {message: when for when, message in stage.sent}
    # Confirmed 8 ms after it was sent; what was said before lives LIFE_S longer.
    assert at[MIC_OFF] - at[MIC_ON] >= 0.008 + LIFE_S - 1e-9


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


# Stopping


def test_contacts_are_let_go_before_it_stops() -> None:
    stage = started("speakers")
    stage.stop()
    assert stage.state() is State.STOPPING
    assert changes(stage) == [RELEASE]
    stage.run(1.0)
    assert stage.state() is State.STOPPED
    assert stage.desk.true["relay"] == "rest"
    assert stage.machine.deadline is None


def test_at_rest_it_stops_at_once() -> None:
    stage = started("phones")
    stage.stop()
    assert (stage.state(), changes(stage)) == (State.STOPPED, [])


def test_the_leg_under_way_is_finished_before_contacts_are_let_go() -> None:
    stage = started("speakers")
    stage.desk.fate = lambda: (0.010,)
    stage.go("call", ticket=1)
    stage.run(0.001)
    before = changes(stage)
    stage.stop()
    assert changes(stage) == before
    stage.run(1.0)
    assert stage.state() is State.STOPPED
    assert stage.desk.true["relay"] == "rest"
    assert stage.ends(1) == [Told.HALTED]


def test_a_deaf_desk_cannot_hold_up_the_stop() -> None:
    stage = started("speakers")
    stage.desk.is_deaf = True
    stage.go("call", ticket=1)
    stage.stop()
    stage.run(STOP_S + 0.01)
    assert stage.state() is State.STOPPED
    assert stage.ends(1) == [Told.HALTED]


def test_asked_twice_it_stops_at_once() -> None:
    stage = started("speakers")
    stage.desk.is_deaf = True
    stage.go("call", ticket=1)
    stage.stop()
    stage.stop()
    assert stage.state() is State.STOPPED
    assert stage.ends(1) == [Told.HALTED]


def test_a_wish_that_waits_is_refused_when_it_stops() -> None:
    stage = started("phones")
    stage.desk.fate = lambda: (0.010,)
    stage.go("speakers", ticket=1)
    stage.go("call", ticket=2)
    stage.stop()
    stage.run(1.0)
    stage.go("phones", ticket=3)
    assert [stage.ends(n) for n in (1, 2, 3)] == [
        [Told.HALTED],
        [Told.REFUSED],
        [Told.REFUSED],
    ]


# Plans made before they are needed


def test_plans_are_made_at_rest_and_a_press_then_makes_none() -> None:
    of = studio(start="quiet")
    made: list[str] = []
    stage = Stage(of)
    real = stage.machine._desk.plans._navigator

    def counted(belief: Belief, scene: Scene) -> Crossing | Finding:
        made.append(scene.name)
        return real(belief, scene)

    stage = Stage(of, plans=counted)
    assert not stage.machine.prepare()
    stage.start()
    made.clear()
    while stage.machine.prepare():
        pass
    assert sorted(made) == ["call", "phones", "speakers", "talkback"]
    made.clear()
    stage.press()
    stage.run(1.0)
    assert made == []


def test_no_plan_is_made_ahead_while_a_crossing_is_under_way() -> None:
    stage = started("phones")
    stage.desk.fate = lambda: (0.010,)
    stage.go("speakers")
    assert not stage.machine.prepare()


def test_every_message_of_the_fake_desk_is_a_message() -> None:
    # Guards the helper above: it would be blind if questions looked otherwise.
    stage = started("phones")
    stage.run(30.0)
    assert changes(stage) == []
    assert cast("list[Message]", [m for _, m in stage.sent])
