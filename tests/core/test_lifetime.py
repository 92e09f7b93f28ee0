"""The machine and its gear on one simulated clock: starting and stopping."""

from bridge.core.effects import Began, PortFound, PortLost, Told
from bridge.core.flight import TRIES
from bridge.core.ground import Ground
from bridge.core.lifetime import START_S, STOP_S
from bridge.core.table import State
from bridge.core.wire import Contact, Osc
from tests.fakes.stage import Stage, changes, started
from tests.fakes.studio import DIM, RELAY, TRIM, osc_switch, studio

RELEASE = Contact("relay", high=False)
ONE_WAY = (TRIM, DIM, RELAY)
DESK = tuple(osc_switch(name) for name in ("mic", "guest", "talk"))


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
