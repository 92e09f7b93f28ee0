"""The engine with fake ports on a simulated clock: arrivals in, effects out."""

import asyncio

import pytest

from bridge.core.effects import Told
from bridge.core.wire import Contact, Message, Osc
from bridge.engine.ports import Deliver, Heard, Port
from tests.fakes.engine_rig import DOWN, UP, Rig
from tests.fakes.port import FakePort
from tests.fakes.studio import studio


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
