"""A machine's life in bad weather: whatever happens, in whatever order.

The network between us and the desk is played by the worst enemy who keeps to its one
rule: no packet lives longer than LIFE_S. Within that it is lost, late, doubled or
overtaken as it suits. Hands turn knobs, cables come out, presses come at any moment.

What must hold is told by the desk, not by the machine: its true values are what the
messages and hands have made of them.
"""

from collections.abc import Callable

import pytest
from hypothesis import Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from bridge.core.belief import known
from bridge.core.button import Gesture
from bridge.core.effects import (
    ENDS,
    Began,
    Effect,
    Event,
    NotSent,
    PortFound,
    PortLost,
    Pressed,
    Said,
    Send,
    Stop,
    Tell,
    Wanted,
)
from bridge.core.journey import Journey, Turn
from bridge.core.knowledge import Knowledge
from bridge.core.leg import Change
from bridge.core.machine import Machine
from bridge.core.table import State
from bridge.core.wire import Message, Osc, Value
from tests.fakes.known_faults import a_wait_instead_of_a_confirmation
from tests.fakes.stage import POWER_UP
from tests.fakes.studio import JUDGE, LIFE_MS, SCENES, navigator, studio

pytestmark = pytest.mark.long


LIFE_S = LIFE_MS / 1000
SWITCHES = ("mic", "guest", "talk")
PORTS = ("desk", "strip", "relay")
MOST_WAKES = 20_000
"""In one life of some minutes; a machine that spins is woken more often."""


class Life(RuleBasedStateMachine):
    """One life, from power-on to the end."""

    def __init__(self) -> None:
        super().__init__()
        self.now = 10.0
        self.studio = studio(start="quiet")
        self.machine = Machine(
            self.studio, JUDGE, navigator(self.studio, JUDGE), self.now
        )
        self.true: dict[str, Value] = dict(POWER_UP)
        # (sent at, message, to gear?), oldest first
        self.air: list[tuple[float, Message, bool]] = []
        self.plugged: set[str] = set()
        # Controls moved by a hand, and since when: what is said of them before that,
        # and what nobody has told us yet, is not held against the machine.
        self.excused: dict[str, float] = {}
        self.by_hand = False
        self.open_tickets: set[int] = set()
        self.tickets = 0
        self.wakes = 0

    @initialize(
        true=st.fixed_dictionaries({n: st.booleans() for n in SWITCHES}),
        is_all_there=st.sampled_from([True, True, True, False]),
    )
    def power_on(self, true: dict[str, bool], is_all_there: bool) -> None:
        self.true.update(true)
        self.by_hand = bool(JUDGE.nevers_broken(known(self.true)))
        self.happen(Began())
        if is_all_there:
            for port in PORTS:
                self.plug_in(port)
            self.have_good_weather(0.002)

    # What happens

    @rule(port=st.sampled_from(PORTS), kept_power=st.booleans())
    def plug_in(self, port: str, kept_power: bool = True) -> None:
        if port not in self.plugged:
            self.plugged.add(port)
            if port == "relay":
                self.apply("relay", "rest")
            if port == "desk" and not kept_power:
                self.true.update(dict.fromkeys(SWITCHES, False))
        self.happen(PortFound(port))

    @rule(port=st.sampled_from(PORTS))
    def unplug(self, port: str) -> None:
        self.plugged.discard(port)
        if port == "desk":
            self.air.clear()
        self.happen(PortLost(port, "cable pulled"))

    @rule(gesture=st.sampled_from([Gesture.TAP, Gesture.HOLD]))
    def press(self, gesture: Gesture) -> None:
        self.happen(Pressed("pedal", gesture, self.ticket()))

    @rule(scene=st.sampled_from(sorted(SCENES)))
    def ask_for(self, scene: str) -> None:
        self.happen(Wanted(scene, self.ticket()))

    @rule(value=st.booleans())
    def set_the_pad(self, value: bool) -> None:
        self.true["pad"] = value
        self.happen(Said("pad", value))

    @rule(name=st.sampled_from(SWITCHES), is_noticed=st.booleans())
    def turn_a_knob(self, name: str, is_noticed: bool) -> None:
        self.by_hand = True
        self.true[name] = not self.true[name]
        self.excused[name] = self.now
        if is_noticed and "desk" in self.plugged:
            self.air.append((self.now, self.notice(name), False))

    @rule(port=st.sampled_from(PORTS))
    def refuse_a_message(self, port: str) -> None:
        self.happen(NotSent(port, "no room"))

    @precondition(lambda self: self.air)
    @rule(data=st.data(), is_doubled=st.booleans())
    def deliver(self, data: st.DataObject, is_doubled: bool) -> None:
        place = data.draw(st.integers(0, len(self.air) - 1))
        at, message, to_gear = self.air[place]
        if not is_doubled:
            del self.air[place]
        self.arrive(at, message, to_gear)

    @precondition(lambda self: self.air)
    @rule(data=st.data())
    def lose(self, data: st.DataObject) -> None:
        del self.air[data.draw(st.integers(0, len(self.air) - 1))]

    @rule(seconds=st.sampled_from([0.001, 0.005, 0.012, 0.049, 0.051, 0.2, 1.0, 11.0]))
    def wait(self, seconds: float) -> None:
        self.pass_time(seconds)

    @rule(delay=st.sampled_from([0.0, 0.002, 0.020, 0.050]))
    def have_good_weather(self, delay: float) -> None:
        """Two seconds in which everything arrives, after this delay."""
        end = self.now + 2.0
        while True:
            times = [at + delay for at, _, _ in self.air]
            deadline = self.machine.deadline
            due = min([*times, end if deadline is None else deadline])
            if due >= end:
                break
            self.now = max(self.now, due)
            ripe = [p for p in self.air if p[0] + delay <= self.now]
            self.air = [p for p in self.air if p[0] + delay > self.now]
            for packet in ripe:
                self.arrive(*packet)
            self.wake()
        self.now = end
        self.wake()

    @precondition(lambda self: self.tickets > 8)
    @rule(chance=st.integers(0, 9))
    def stop(self, chance: int) -> None:
        if chance == 7:
            self.happen(Stop())

    # How it happens

    def ticket(self) -> int:
        self.tickets += 1
        self.open_tickets.add(self.tickets)
        return self.tickets

    def happen(self, event: Event) -> None:
        self.perform(self.machine.handle(event, self.now))

    def wake(self) -> None:
        deadline = self.machine.deadline
        if deadline is not None and deadline <= self.now:
            self.wakes += 1
            assert self.wakes < MOST_WAKES, "it spins"
            self.perform(self.machine.wake(self.now))

    def pass_time(self, seconds: float) -> None:
        """Nothing arrives; what is too old dies; the machine is woken when it wants."""
        end = self.now + seconds
        while (due := self.machine.deadline) is not None and due <= end:
            self.now = max(self.now, due)
            self.bury()
            self.wake()
        self.now = end
        self.bury()

    def bury(self) -> None:
        self.air = [p for p in self.air if p[0] + LIFE_S > self.now]

    def perform(self, effects: tuple[Effect, ...]) -> None:
        for effect in effects:
            if isinstance(effect, Tell) and effect.ticket is not None:
                assert effect.told in ENDS
                assert effect.ticket in self.open_tickets, "ended twice"
                self.open_tickets.remove(effect.ticket)
            if isinstance(effect, Send):
                self.send(effect.message)

    def send(self, message: Message) -> None:
        port = message.port
        assert port not in self.machine.absent or port not in self.plugged
        if isinstance(message, Osc):
            if port in self.plugged:
                self.air.append((self.now, message, True))
            return
        for control in self.studio.controls.values():
            for value, messages in control.messages.items():
                if message in messages:
                    self.apply(control.name, value)

    def arrive(self, at: float, message: Message, to_gear: bool) -> None:
        if not to_gear:
            said = next(n for n in SWITCHES if self.is_about(message, n))
            if self.excused.get(said, self.now) <= at - LIFE_S:
                del self.excused[said]
            self.perform(self.machine.hear(message, self.now, self.now))
            return
        for name in SWITCHES:
            control = self.studio.controls[name]
            if message in control.ask:
                self.air.append((self.now, self.notice(name), False))
            for value, messages in control.messages.items():
                if message in messages:
                    self.apply(name, value)

    def is_about(self, message: Message, name: str) -> bool:
        control = self.studio.controls[name]
        return any(message in sent for sent in control.messages.values())

    def notice(self, name: str) -> Message:
        (message,) = self.studio.controls[name].messages[self.true[name]]
        return message

    def apply(self, name: str, value: Value) -> None:
        """One of our messages takes effect; a selector lets go before it takes hold."""
        before = JUDGE.nevers_broken(known(self.true))
        self.true[name] = value
        broken = JUDGE.nevers_broken(known(self.true))
        if not self.excused:
            assert set(broken) <= set(before), f"{name} to {value} broke {broken}"

    # What must hold

    @invariant()
    def the_truth_is_among_what_is_believed(self) -> None:
        belief = self.machine.knowledge.belief
        if self.machine.state is State.STOPPED:
            return  # it listens no more
        for name, value in self.true.items():
            if name not in self.excused:
                assert value in belief[name], f"{name} is {value}, not {belief[name]}"

    @invariant()
    def our_messages_alone_break_no_rule(self) -> None:
        if not self.by_hand:
            assert not JUDGE.nevers_broken(known(self.true))

    @invariant()
    def what_is_in_force_is_so(self) -> None:
        if self.excused or self.machine.state is State.STOPPED:
            return
        for name in self.machine.scenes_in_force:
            for control, value in SCENES[name].items():
                assert self.true[control] == value

    def teardown(self) -> None:
        """However it went, good weather leads home; it stops; all got an answer."""
        if self.machine.state not in (State.STOPPING, State.STOPPED):
            for port in PORTS:
                self.plug_in(port)
            self.have_good_weather(0.010)
            self.ask_for("quiet")
            for _ in range(6):  # every control is asked in this time
                self.have_good_weather(0.010)
            self.ask_for("quiet")
            self.have_good_weather(0.010)
            assert "quiet" in self.machine.scenes_in_force
        self.happen(Stop())
        self.pass_time(3.0)
        assert self.machine.state is State.STOPPED
        assert not self.open_tickets


TestLife = Life.TestCase
TestLife.settings = settings(stateful_step_count=60)


# The enemy must be able to see: machines with a known fault are found out.


def forget_what_is_under_way(patch: pytest.MonkeyPatch) -> None:
    def sending(self: Knowledge, change: Change, now: float) -> None:
        self[change.control].sent = change.value

    patch.setattr(Knowledge, "sending", sending)


def go_on_without_an_answer(patch: pytest.MonkeyPatch) -> None:
    real = Journey.advance

    def advance(self: Journey) -> Turn:
        turn = real(self)
        if turn is Turn.FAILED:
            self._close_leg()
            return Turn.LEG_OVER
        return turn

    patch.setattr(Journey, "advance", advance)


def believe_in_gear_that_is_gone(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Knowledge, "forget", lambda *_: None)


@pytest.mark.parametrize(
    "fault",
    [
        forget_what_is_under_way,
        a_wait_instead_of_a_confirmation,
        go_on_without_an_answer,
        believe_in_gear_that_is_gone,
    ],
)
def test_a_life_finds_out_a_machine_with_this_fault(
    fault: Callable[[pytest.MonkeyPatch], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    fault(monkeypatch)
    search = settings(
        max_examples=5000,  # it ends at the first, a hundred or two on the average
        stateful_step_count=60,
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        print_blob=False,
    )
    with pytest.raises(AssertionError):
        run_state_machine_as_test(Life, settings=search)
