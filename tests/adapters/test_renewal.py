"""What gear must be sent again and again: when, and when not."""

import pytest

from bridge.adapters.renewal import RenewingPort
from bridge.core.connection import Renewal
from bridge.core.wire import Osc
from bridge.engine.ports import PortGone
from tests.fakes.clock import SimulatedClock
from tests.fakes.inbox import Inbox, until
from tests.fakes.osc import FakeOscPort

FOLLOW = Osc("desk", "/follow")
RENEWAL = Renewal(FOLLOW, 20.0)


async def test_it_goes_first_and_then_in_its_time_while_the_gear_is_there() -> None:
    gear = FakeOscPort("desk", SimulatedClock())
    gear.unplug()
    port, inbox = RenewingPort(gear, [RENEWAL]), Inbox()
    await port.open(inbox)
    assert gear.received == []
    gear.plug()
    port.send(Osc("desk", "/a", (1,)))
    assert gear.received == [FOLLOW, Osc("desk", "/a", (1,))]
    await until(lambda: gear.received.count(FOLLOW) == 3)
    gear.unplug()
    assert port._timers == {}, "nothing is due while the gear is away"
    drops = dict(port.drops)
    gear.plug()
    await until(lambda: gear.received.count(FOLLOW) == 5)
    await port.close()
    assert port._timers == {}
    assert port.drops == drops
    assert inbox.presence == ["lost", "found", "lost", "found"]


async def test_a_renewal_that_is_refused_is_tried_again() -> None:
    gear = FakeOscPort("desk", SimulatedClock())
    port = RenewingPort(gear, [RENEWAL])
    await port.open(Inbox())
    gear._is_plugged = False  # it goes without a word
    with pytest.raises(PortGone):
        port.send(FOLLOW)
    await until(lambda: sum(port.drops.values()) > 2)
    gear._is_plugged = True
    sent = gear.received.count(FOLLOW)
    await until(lambda: gear.received.count(FOLLOW) > sent)
    await port.close()
