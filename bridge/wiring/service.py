"""The running service: what it is made of, what takes over, what it lacks."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import partial
from pathlib import Path

from bridge.core.connection import InputLine, OutputLine
from bridge.core.effects import Tell
from bridge.core.judge import HouseJudge
from bridge.core.machine import Machine
from bridge.core.missing import Missing
from bridge.core.plans import Navigator
from bridge.core.studio import Studio
from bridge.engine.clock import MonotonicClock
from bridge.engine.loop import Engine
from bridge.engine.ports import Port, Witness
from bridge.engine.succession import Next
from bridge.wiring.ports import PortMaker


def service_for(
    studio: Studio,
    judge: HouseJudge,
    navigator: Navigator,
    ports: Iterable[Port],
    record: Callable[[Tell, float], None],
    environment: Mapping[str, str],
    file: Path,
    changed: Callable[[], None] = lambda: None,
    witness: Witness | None = None,
) -> Engine:
    """The whole service for a studio that was proved. Call it in the event loop.

    navigator: finds the ways; best the one that has found them for the proof.
    record: gets what is told and when (monotonic seconds); it must not wait.
    file: the studio file (absolute), by which what helpers owe is found after a kill.
    changed: called after each round in which something was done.
    witness: sees what comes and goes, for the journal; it must not wait either.
    """
    from bridge.adapters.ledger import Ledger, place_for
    from bridge.adapters.notify import Manager

    clock = MonotonicClock()
    ledger = Ledger(place_for(environment, file), file)
    machine = Machine(studio, judge, navigator, clock.now(), owed=ledger.kept())
    manager = Manager(environment)
    return Engine(machine, ports, clock, manager, record, changed, witness, ledger.keep)


def tell_manager(environment: Mapping[str, str], words: str) -> bool:
    """Have the service manager show a status; False if there is none."""
    from bridge.adapters.notify import Manager

    manager = Manager(environment)
    manager.status(words)
    manager.close()
    return manager.is_there


def next_studio(
    studio: Studio,
    judge: HouseJudge,
    navigator: Navigator,
    maker: PortMaker,
    adopted: Callable[[], None],
) -> Next:
    """What takes over from the studio that runs; its parts as for `service_for`."""

    def machine(now: float) -> Machine:
        return Machine(studio, judge, navigator, now)

    return Next(machine, partial(maker.ports, studio), adopted)


def self_test(
    studio: Studio, journal: Path | None, *, has_contacts: bool
) -> tuple[Missing, ...]:
    """What this computer lacks for the studio; not for the event loop: it may wait.

    has_contacts: whether lines are real ones.
    """
    from bridge.adapters.self_test import missing

    wanted = [
        connection
        for connection in studio.connections
        if has_contacts or not isinstance(connection, OutputLine | InputLine)
    ]
    return missing(wanted, journal)
