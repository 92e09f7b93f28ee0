"""What the service manager is told: ready, how it stands, alive."""

import asyncio
import itertools

import pytest

from bridge.core.effects import Told
from tests.fakes.engine_rig import Rig


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
