"""The machine and its gear on one simulated clock: a press, and leg after leg."""

from typing import cast

from bridge.core.belief import Belief
from bridge.core.button import Gesture
from bridge.core.control import Scene
from bridge.core.crossing import Crossing
from bridge.core.effects import PortLost, Pressed, Told
from bridge.core.finding import Finding
from bridge.core.flight import TRIES
from bridge.core.ground import Ground
from bridge.core.table import State
from bridge.core.wire import Contact, Message, Midi, Osc
from tests.fakes.stage import Stage, changes, started
from tests.fakes.studio import LIFE_MS, studio

MIC_OFF, MIC_ON = Osc("desk", "/mic", (0.0,)), Osc("desk", "/mic", (1.0,))
PULL = Contact("relay", high=True)
LIFE_S = LIFE_MS / 1000


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
