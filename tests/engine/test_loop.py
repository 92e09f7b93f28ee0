"""The engine with fake ports on a simulated clock: arrivals in, effects out."""

import asyncio
import itertools
import json
from collections.abc import Callable
from typing import Any

import pytest

from bridge.core.effects import Tell, Told
from bridge.core.machine import Machine
from bridge.core.studio import Studio
from bridge.core.table import State
from bridge.core.wire import Contact, Message, Midi, Osc
from bridge.engine.loop import Engine
from bridge.engine.ports import Deliver, Heard, Port
from tests.fakes.clock import SimulatedClock
from tests.fakes.port import FakePort
from tests.fakes.studio import JUDGE, navigator, studio

DOWN, UP = Midi("pedal", b"\xb0\x40\x7f"), Midi("pedal", b"\xb0\x40\x00")
NAMES = ("desk", "strip", "relay", "pedal")


class FakeManager:
    """A service manager that writes down what it is told, and when."""

    def __init__(self, clock: SimulatedClock, ping_s: float | None = None) -> None:
        self._clock, self._ping_s = clock, ping_s
        self.told: list[tuple[float, str]] = []
        self.lines: list[str] = []

    @property
    def ping_s(self) -> float | None:
        return self._ping_s

    def ready(self) -> None:
        self.told.append((self._clock.now(), "ready"))

    def alive(self) -> None:
        self.told.append((self._clock.now(), "alive"))

    def stopping(self) -> None:
        self.told.append((self._clock.now(), "stopping"))

    def status(self, words: str) -> None:
        if words not in self.lines[-1:]:
            self.lines.append(words)

    def times(self, what: str) -> list[float]:
        return [at for at, said in self.told if said == what]


class Rig:
    """A studio's engine, all of whose gear is in the test's hand."""

    def __init__(
        self,
        of: Studio | None = None,
        ping_s: float | None = None,
        without: tuple[str, ...] = (),
    ) -> None:
        self.clock = SimulatedClock()
        of = of or studio(start="quiet")
        self.ports = {
            name: FakePort(name, self.clock) for name in NAMES if name not in without
        }
        self.held: dict[str, Message] = {}
        if "desk" in self.ports:
            self.ports["desk"].answer = self.desk
        machine = Machine(of, JUDGE, navigator(of, JUDGE), self.clock.now())
        self.manager = FakeManager(self.clock, ping_s)
        self.told: list[Tell] = []
        self.answers: dict[str, dict[str, Any]] = {}
        self.shown = 0
        self.engine = Engine(
            machine,
            self.ports.values(),
            self.clock,
            self.manager,
            lambda tell, _: self.told.append(tell),
            self.show,
        )

    def desk(self, message: Message) -> list[Message]:
        """The desk keeps what it is told, and answers when it is asked."""
        assert isinstance(message, Osc)
        if message.arguments:
            self.held[message.address] = message
            return []
        off = Osc("desk", message.address, (0.0,))
        return [self.held.get(message.address, off)]

    def show(self) -> None:
        self.shown += 1

    def after(self, seconds: float, happens: Callable[[], None]) -> None:
        self.clock.after(seconds, happens)

    def ask(self, seconds: float, *words: str) -> None:
        """Ask at this time; the answer is kept by its words."""
        said = " ".join(words)

        def reply(text: str) -> None:
            assert said not in self.answers, "answered twice"
            self.answers[said] = json.loads(text)

        self.after(seconds, lambda: self.engine.ask(words, reply))

    def press(self, seconds: float) -> None:
        self.after(seconds, lambda: self.ports["pedal"].says(DOWN))
        self.after(seconds + 0.1, lambda: self.ports["pedal"].says(UP))

    async def run(self, seconds: float) -> None:
        """Run so long, then stop."""
        self.after(seconds, self.engine.stop)
        await self.engine.run()

    def words(self, told: Told) -> list[str]:
        return [tell.words for tell in self.told if tell.told is told]


async def test_it_is_ready_when_gear_has_answered_and_not_before() -> None:
    rig = Rig()
    rig.ports["desk"].late_by = 0.040
    await rig.run(5.0)
    (ready,) = rig.manager.times("ready")
    # Nothing older may be in the air when the gear is asked: twice 50 ms.
    assert ready - 1000.0 == pytest.approx(0.100 + 0.040)
    assert rig.words(Told.ARRIVED) == ["quiet is in force"]
    assert rig.manager.lines == [
        (
            "starting: no scene; 6 of 7 controls not sure; relay is not there; "
            "strip is not there"
        ),
        "starting: no scene; 6 of 7 controls not sure; relay is not there",
        "starting: no scene; 5 of 7 controls not sure",
        "starting: no scene; 4 of 7 controls not sure",
        "starting: no scene; 3 of 7 controls not sure",
        "crossing: quiet; 2 of 7 controls not sure",
        "resting: quiet",
        "stopped: quiet",
    ]


async def test_a_press_becomes_messages_and_its_time_is_kept() -> None:
    rig = Rig()
    rig.press(3.0)
    rig.ask(6.0, "status")
    await rig.run(7.0)
    assert rig.words(Told.ARRIVED) == ["quiet is in force", "phones is in force"]
    assert rig.held["/mic"] == Osc("desk", "/mic", (1.0,))
    assert rig.answers["status"]["press_ms"] == 0.0  # on this clock no time passes


async def test_a_press_that_was_heard_earlier_counts_from_then() -> None:
    rig = Rig()
    box = rig.engine.mailbox

    def press_late() -> None:
        box.put(Heard(DOWN, rig.clock.now() - 0.007))

    rig.after(3.0, press_late)
    rig.ask(6.0, "status")
    await rig.run(7.0)
    assert rig.answers["status"]["press_ms"] == 7.0
    assert rig.answers["status"]["worst_press_ms"] == 7.0


async def test_a_request_is_answered_when_the_crossing_has_ended() -> None:
    rig = Rig()
    rig.ports["desk"].late_by = 0.010
    rig.ask(3.0, "go", "phones")
    await rig.run(6.0)
    took = rig.answers["go phones"].pop("took_ms")
    assert rig.answers["go phones"] == {
        "version": 1,
        "ended": "arrived",
        "scene": "phones",
        "words": "phones is in force",
        "rules": [],
        "people": [],
        "cure": "",
        "messages": 4,  # three steps, and the desk is asked once
        "way": "to phones: 3 steps in 1 leg",
    }
    # The strip has 2 ms between its two messages, settles 20 ms after them, and a
    # sound server may keep them for 12.
    assert took == pytest.approx(34.0)


async def test_a_refused_request_is_answered_with_the_reason() -> None:
    rig = Rig()
    rig.ask(3.0, "go", "bad")
    rig.ask(3.1, "press", "pedal", "hold")
    rig.ask(4.0, "press", "pedal")
    await rig.run(8.0)
    assert rig.answers["go bad"]["ended"] == "refused"
    assert "howl" in rig.answers["go bad"]["words"]
    assert rig.answers["press pedal hold"]["scene"] == "call"
    assert rig.answers["press pedal"]["ended"] == "arrived"


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (
            ("stop",),
            (
                "'stop' is not understood; there are press BUTTON [GESTURE], go SCENE, "
                "hand CONTROL VALUE, done, status"
            ),
        ),
        (
            ("press", "pedal", "kick"),
            "there is no gesture 'kick'; there are tap, hold, double, release",
        ),
        (("hand", "mic", "on"), "there is no hand control 'mic'; there are pad"),
        (("hand", "pad", "in"), "pad has no value 'in'; it has off, on"),
        (("done",), "nothing is asked of a hand now"),
    ],
)
async def test_a_request_that_is_none_is_answered_with_what_there_is(
    words: tuple[str, ...], why: str
) -> None:
    rig = Rig()
    rig.ask(3.0, *words)
    await rig.run(6.0)
    assert rig.answers[" ".join(words)] == {"version": 1, "error": why}
    assert rig.engine.machine.state is State.STOPPED


async def test_what_is_done_by_hand_is_shown_and_said() -> None:
    rig = Rig()
    rig.ask(3.0, "go", "padded")
    rig.ask(4.0, "status")
    rig.ask(5.0, "done")
    await rig.run(8.0)
    press_in = {"control": "pad", "value": "on", "words": "press the pad button in"}
    assert rig.answers["status"]["by_hand"] == [press_in]
    assert rig.answers["done"]["ended"] == "done by hand"
    assert rig.answers["done"]["words"] == "said to be done: press the pad button in"
    assert rig.answers["go padded"]["ended"] == "arrived"


async def test_what_a_hand_control_stands_at_can_be_said_at_any_time() -> None:
    rig = Rig()
    rig.ask(3.0, "hand", "pad", "on")
    rig.ask(4.0, "status")
    await rig.run(5.0)
    pad = rig.answers["status"]["controls"][-1]
    assert (pad["values"], pad["why"]) == (["on"], "a person says so")


async def test_the_status_is_complete_and_of_version_1() -> None:
    of = studio(start="quiet")
    rig = Rig(of)
    rig.after(2.0, rig.ports["strip"].unplug)
    rig.ask(3.0, "status")
    await rig.run(4.0)
    status = rig.answers["status"]
    controls = status.pop("controls")
    assert [c["name"] for c in controls] == list(of.controls)
    age = controls[0].pop("age_s")
    assert 0 < age < 3
    assert controls[0] == {
        "name": "mic",
        "label": "mic switch",
        "gear": "desk",
        "reach": "remote",
        "values": ["off"],
        "why": "the gear says so",
    }
    assert controls[4]["values"] == ["-10 dB", "-20 dB", "0 dB"]
    assert controls[4]["why"] == "its gear is not there"
    assert status == {
        "version": 1,
        "studio": "a fake studio",
        "state": "resting",
        "scenes": [],
        "heading": "",
        "by_hand": [],
        "later_by_hand": [],
        "unsure_by_hand": [],
        "ports": [
            {"name": "desk", "is_found": True, "why": "", "drops": {}},
            {
                "name": "strip",
                "is_found": False,
                "why": "the cable is out: put it in",
                "drops": {},
            },
            {"name": "relay", "is_found": True, "why": "", "drops": {}},
            {"name": "pedal", "is_found": True, "why": "", "drops": {}},
        ],
        "missing": [],
        "file": {"is_in_force": True, "words": "", "findings": []},
        "lamps": {},
        "relays": [],
        "drops": {},
        "sent": 5,
        "press_ms": None,
        "worst_press_ms": None,
        "last": "strip is not there: the cable is out: put it in",
    }


async def test_a_cable_that_comes_out_halts_and_is_found_again() -> None:
    rig = Rig()
    rig.ports["desk"].late_by = 0.010
    rig.ask(3.0, "go", "phones")
    rig.after(3.005, rig.ports["desk"].unplug)
    rig.after(4.0, rig.ports["desk"].plug)
    rig.ask(6.0, "go", "speakers")
    await rig.run(9.0)
    assert rig.answers["go phones"]["ended"] == "halted"
    assert rig.words(Told.PORT_FOUND).count("desk is there") == 2
    assert rig.answers["go speakers"]["ended"] == "arrived"


class FullPort(FakePort):
    """Takes no message, and says nothing of it but to the sender."""

    is_full = False

    def misfit(self, message: Message) -> str:
        return "no room" if self.is_full else ""


async def test_a_message_that_is_not_taken_ends_the_crossing_in_words() -> None:
    rig = Rig(without=("strip",))
    full = FullPort("strip", rig.clock)
    rig.engine._ports.replace([*rig.engine._ports, full])
    rig.ports["strip"] = full

    def fill() -> None:
        full.is_full = True

    rig.after(2.5, fill)
    rig.ask(3.0, "go", "phones")
    await rig.run(6.0)
    assert rig.answers["go phones"]["words"] == (
        "on the way to phones: a message was not taken: strip: no room"
    )
    assert rig.engine.dropped() == {"strip: misfit": 1}


async def test_what_the_studio_has_no_port_for_is_not_there() -> None:
    rig = Rig(without=("strip",))
    rig.ask(5.0, "go", "phones")
    await rig.run(8.0)
    assert rig.answers["go phones"]["ended"] == "refused"
    assert rig.words(Told.REFUSED)[0] == (
        "quiet is refused: it needs what is not there: strip (not opened yet)"
    )


async def test_the_manager_hears_of_every_round_in_time() -> None:
    rig = Rig(ping_s=2.5)
    await rig.run(60.0)
    alive = rig.manager.times("alive")
    gaps = [after - before for before, after in itertools.pairwise(alive)]
    assert len(alive) >= 23
    assert max(gaps) <= 2.5 + 1e-9


async def test_a_loop_that_is_stuck_says_nothing() -> None:
    # The sign of life comes from the loop itself: when it does not go round, as
    # here where the clock stands in the middle of an arrival, none is given.
    rig = Rig(ping_s=2.5)
    asked = asyncio.Event()
    rig.after(30.0, lambda: rig.engine.ask(("status",), stuck))

    def stuck(_: str) -> None:
        rig.clock._now += 600.0
        asked.set()

    await rig.run(700.0)
    alive = rig.manager.times("alive")
    assert asked.is_set()
    assert not [at for at in alive if 1030.0 < at < 1630.0]


async def test_without_a_manager_that_asks_nothing_is_said() -> None:
    rig = Rig(ping_s=None)
    await rig.run(60.0)
    assert rig.manager.times("alive") == []


async def test_it_stops_in_order_and_lets_contacts_go() -> None:
    rig = Rig()
    rig.ask(3.0, "go", "speakers")
    await rig.run(6.0)
    relay = rig.ports["relay"].received
    assert relay == [Contact("relay", high=True), Contact("relay", high=False)]
    assert len(rig.manager.times("stopping")) == 1
    assert rig.words(Told.STOPPED) == ["stopped"]
    assert all(port._deliver is None for port in rig.ports.values())


async def test_told_twice_it_stops_at_once() -> None:
    rig = Rig()
    rig.ask(3.0, "go", "phones")
    rig.ports["desk"].late_by = 0.015
    rig.after(3.001, rig.engine.stop)
    await rig.run(3.002)
    assert rig.answers["go phones"]["ended"] == "halted"
    assert rig.words(Told.STOPPED) == ["stopped at once, as asked twice"]


async def test_a_port_that_cannot_be_closed_does_not_keep_the_others() -> None:
    rig = Rig()

    async def jams() -> None:
        msg = "jammed"
        raise OSError(msg)

    rig.ports["desk"].close = jams  # type: ignore[method-assign]
    with pytest.raises(ExceptionGroup, match="could not be closed"):
        await rig.run(3.0)
    assert rig.ports["relay"]._deliver is None


class SlowPort(FakePort):
    """Takes its time to open, as a name server that is not there."""

    async def open(self, deliver: Deliver) -> None:
        await asyncio.Event().wait()


async def test_a_port_that_does_not_open_holds_nothing_up() -> None:
    rig = Rig(without=("pedal",))
    slow: Port = SlowPort("pedal", rig.clock)
    rig.engine._ports.replace([*rig.engine._ports, slow])
    rig.ask(4.0, "go", "phones")
    await rig.run(6.0)
    assert rig.answers["go phones"]["ended"] == "arrived"


async def test_a_foot_lifted_in_time_does_not_hold_however_late_we_look() -> None:
    rig = Rig()
    pedal = rig.ports["pedal"]

    def both_arrive_late() -> None:
        now = rig.clock.now()
        rig.engine.mailbox.put(Heard(DOWN, now - 0.700))
        rig.engine.mailbox.put(Heard(UP, now - 0.150))

    rig.after(3.0, both_arrive_late)
    await rig.run(6.0)
    assert pedal.drops == {}
    assert rig.words(Told.ARRIVED) == ["quiet is in force", "phones is in force"]


async def test_plans_are_made_while_nothing_happens() -> None:
    of = studio(start="quiet")
    rig = Rig(of)
    rig.ask(3.0, "status")
    await rig.run(4.0)
    kept = rig.engine.machine._desk.plans._kept
    assert {key[0] for key in kept} == {
        "quiet",
        "phones",
        "speakers",
        "call",
        "talkback",
    }


async def test_whoever_shows_what_is_hears_of_every_change() -> None:
    rig = Rig()
    await rig.run(2.0)
    assert rig.shown > 0
