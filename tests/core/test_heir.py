"""A machine goes on for another one, between crossings: its file was read anew."""

from dataclasses import replace
from random import Random

import pytest

from bridge.core.button import Gesture
from bridge.core.control import Control
from bridge.core.effects import PortLost, Send, Told
from bridge.core.ground import Ground
from bridge.core.heir import is_same
from bridge.core.machine import Machine
from bridge.core.studio import Studio
from bridge.core.table import State
from bridge.core.wire import Midi, Osc, Value
from tests.fakes.stage import Stage, started
from tests.fakes.studio import (
    DIM,
    JUDGE,
    LIFE_MS,
    PAD,
    RELAY,
    SCENES,
    TRIM,
    navigator,
    osc_switch,
    studio,
)

DESK = (osc_switch("mic"), osc_switch("guest"), osc_switch("talk"))
ALL_THERE = {"desk": "", "strip": "", "relay": "", "pedal": ""}
DOWN, UP = Midi("pedal", b"\xb0\x40\x7f"), Midi("pedal", b"\xb0\x40\x00")


def take_over(stage: Stage, new: Studio, kept: dict[str, str] | None = None) -> int:
    """Let another studio take over; returns how many messages that sent at once."""
    kept = ALL_THERE if kept is None else kept
    old, stage.studio = stage.machine, new
    stage.machine = Machine(new, JUDGE, navigator(new, JUDGE), stage.now)
    effects = stage.machine.take_over(old, kept)
    stage._perform(effects)
    return sum(isinstance(e, Send) and e.message.port != "desk" for e in effects)


def test_what_is_the_same_is_believed_as_before_and_nothing_is_sent() -> None:
    stage = started("phones")
    tracks = {n: stage.machine.knowledge[n].values for n in stage.studio.controls}
    scenes = {**SCENES, "speakers": {**SCENES["speakers"], "trim": -10.0}}
    assert take_over(stage, studio(start="quiet", scenes=scenes)) == 0
    assert stage.state() is State.RESTING
    assert {n: stage.values(n) for n in stage.studio.controls} == tracks
    assert stage.machine.knowledge["dim"].ground is Ground.SETTLED
    (told,) = (tell for tell in stage.told if tell.told is Told.READ_ANEW)
    # Only the pad is not: the file itself says how it stands.
    assert told.words.endswith("6 of 7 controls are known as before")
    stage.go("speakers")
    stage.run(5.0)
    assert stage.values("trim") == {-10.0}
    assert stage.desk.true["trim"] == -10.0


@pytest.mark.parametrize(
    "changed",
    [
        replace(
            DIM, messages={**DIM.messages, True: (Midi("strip", b"\xb0\x51\x7f"),)}
        ),
        replace(DIM, gear="another strip"),
        replace(DIM, ask=(Midi("strip", b"\xb0\x52\x00"),)),
    ],
    ids=["another message", "other gear", "it can be asked now"],
)
def test_a_control_that_is_another_one_is_not_believed(changed: Control) -> None:
    stage = started("phones")
    take_over(stage, studio(controls=(*DESK, RELAY, TRIM, changed, PAD)))
    assert stage.values("dim") == {False, True}
    assert stage.values("trim") == {-10.0}


def test_names_times_and_levels_that_are_used_make_no_other_control() -> None:
    used = (*TRIM.values, 6.0)
    louder = {**TRIM.messages, 6.0: (Midi("strip", b"\xb0\x07\x7f"),)}
    assert is_same(TRIM, replace(TRIM, label="trim", settle_ms=5.0))
    assert is_same(TRIM, replace(TRIM, values=used, messages=louder))
    assert not is_same(TRIM, replace(TRIM, messages={**TRIM.messages, 0.0: ()}))


def test_gear_whose_port_was_opened_anew_is_not_known_until_it_has_answered() -> None:
    stage = started("phones")
    take_over(stage, studio(), {"relay": ""})
    assert stage.machine.absent.keys() == {"desk", "strip"}
    assert stage.values("mic") == {False, True}
    assert stage.values("relay") == {"rest"}
    stage.plug_in()
    stage.run(2.0)
    assert stage.values("mic") == {True}
    assert stage.state() is State.RESTING


def test_a_port_that_stays_and_is_not_there_stays_not_there() -> None:
    stage = started("phones")
    stage.unplug()
    take_over(stage, studio(), {**ALL_THERE, "desk": "cable pulled"})
    assert stage.machine.absent == {"desk": "cable pulled"}
    assert stage.machine.knowledge["mic"].ground is Ground.LOST


def test_a_new_control_of_gear_that_is_there_is_asked() -> None:
    stage = Stage(studio(controls=(*DESK[:2], RELAY, TRIM, DIM, PAD)))
    stage.start()
    new = studio()
    stage.desk = type(stage.desk)(new, {**stage.desk.true, "talk": True})
    take_over(stage, new)
    assert stage.values("talk") == {False, True}
    stage.run(2.0)
    assert stage.values("talk") == {True}


def test_a_foot_that_is_down_stays_down() -> None:
    held = {Gesture.TAP: ("phones",), Gesture.RELEASE: ("quiet",)}
    stage = Stage(studio(start="quiet", pedal=held))
    stage.start()
    stage.hear(UP)
    stage.hear(DOWN)
    stage.run(2.0)
    assert "phones" in stage.machine.scenes_in_force
    take_over(stage, studio(start="quiet", pedal={**held, Gesture.HOLD: ("call",)}))
    stage.run(2.0)  # a hold that was made since is not what this foot meant
    assert "call" not in stage.machine.scenes_in_force
    stage.hear(UP)
    stage.run(2.0)
    assert "quiet" in stage.machine.scenes_in_force


def test_an_alarm_is_told_once_whatever_takes_over_and_its_end_too() -> None:
    stage = started("speakers")
    stage.desk.move("mic", True, stage.now)
    stage.run(1.0)
    take_over(stage, studio(start="quiet"))
    stage.run(1.0)
    assert len(stage.of(Told.ALARM)) == 1
    stage.desk.move("mic", False, stage.now)
    stage.run(1.0)
    assert len(stage.of(Told.ALL_CLEAR)) == 1


def test_nobody_is_led_home_again_who_has_said_where_to_go() -> None:
    stage = started("quiet")
    stage.go("phones")
    stage.run(5.0)
    stage.desk.move("mic", False, stage.now)  # no scene is in force now
    stage.run(1.0)
    told = len(stage.told)
    take_over(stage, studio(start="quiet"))
    stage.unplug()
    stage.plug_in()
    stage.run(5.0)
    kinds = {tell.told for tell in stage.told[told:]}
    assert kinds == {
        Told.READ_ANEW,
        Told.PORT_LOST,
        Told.PORT_FOUND,
        Told.ALARM,
        Told.ALL_CLEAR,
    }


def test_a_crossing_that_was_given_up_stays_given_up() -> None:
    stage = started("quiet")
    stage.go("phones")
    stage.happen(PortLost("desk", "cable pulled"))
    assert stage.state() is State.HALTED
    take_over(stage, studio(), {**ALL_THERE, "desk": "cable pulled"})
    assert stage.state() is State.HALTED
    assert len(stage.values("mic")) == 2


def test_nothing_takes_over_while_something_is_under_way() -> None:
    stage = started("quiet")
    stage.go("phones")
    assert not stage.machine.is_between
    stage.run(5.0)
    assert stage.machine.is_between


def test_the_truth_is_believed_possible_whatever_takes_over_and_when() -> None:
    """Random lives with many files: the true value never leaves what is believed."""
    kinds: list[dict[str, object]] = [
        {},
        {"scenes": {**SCENES, "phones": {"mic": True, "relay": "rest"}}},
        {"spacing_ms": 20.0},
        {"pedal": {Gesture.TAP: ("call", "quiet")}},
    ]
    counted = 0
    for seed in range(20):
        rng = Random(seed)
        stage = Stage(studio(start="quiet"))
        stage.desk.fate = lambda rng=rng: (rng.uniform(0.0, LIFE_MS / 1000),)  # type: ignore[misc]
        stage.start()
        for _ in range(25):
            match rng.randrange(5):
                case 0 | 1:
                    stage.go(rng.choice(["phones", "speakers", "call", "quiet"]))
                case 2:
                    stage.press()
                case 3:
                    stage.desk.move(
                        rng.choice(["mic", "talk"]),
                        rng.choice([True, False]),
                        stage.now,
                    )
                case _ if stage.machine.is_between:
                    take_over(stage, studio(start="quiet", **rng.choice(kinds)))  # type: ignore[arg-type]
                    counted += 1
                case _:
                    pass
            stage.run(rng.choice([0.0, 0.01, 0.07, 0.5, 3.0]))
        stage.run(15.0)
        for name, values in stage.machine.knowledge.belief.items():
            true: Value = stage.desk.true[name]
            assert true in values, (seed, name)
        asked = [m for _, m in stage.sent if isinstance(m, Osc) and not m.arguments]
        assert asked
    assert counted > 40
