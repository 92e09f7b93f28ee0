"""A studio's real service and a simulated desk, as processes, and a network between.

One loop in this process waits for all of them, so that the service can be killed
between two messages. Nothing here believes the service: what was is read from the
desk's record and from the contacts' record.
"""

from __future__ import annotations

import json
import os
import random
import select
import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from bridge.core.connection import MidiDevice
from bridge.core.control import Control, ports_of
from bridge.core.wire import Contact
from bridge.faces.children import Child, SimulatedDesk
from bridge.faces.opened import opened
from bridge.faces.stage import DESK, replaced
from tests.faults.door import Door, kept_port
from tests.faults.midi_gate import MidiGate
from tests.faults.nursery import Nursery
from tests.faults.relay import CALM, Relay
from tests.faults.truth import Jury, Truth, desk_table, moves
from tests.faults.variants import beyond_switches, studio_file

WITHIN_S: Final = 120.0
"""How long anything may take; it takes a second. For a machine that is very busy."""

AWAY_S: Final = 0.06
"""Between a kill and the next start. The unit waits 500 ms (RestartSec); what safety
needs is that nothing is on its way any more, 50 ms after the last packet was sent. So
this is a shorter and therefore harder case than any service manager makes."""

AWAY_MIDI_S: Final = 0.5
"""The same for MIDI over JACK, here as the unit has it: the helper process of the dead
service must have left the server."""

ASKED_AGAIN_S: Final = 0.25
"""The door answers nobody who asks without end."""

ON_THE_WAY_S: Final = 3.0
"""How late a message over JACK may be on a busy machine before it counts as lost."""

ROUNDS: Final = 5
"""Requests on a healthy network until the service must be in the scene."""


class Rig:
    """All that runs for one studio. `jury` has judged everything until `settle`."""

    def __init__(
        self, studio: str, folder: Path, seed: int, *, options: tuple[str, ...] = ()
    ) -> None:
        self.rng = random.Random(seed)
        self.kills, self.told = 0, list[dict[str, Any]]()
        self._record = folder / "contacts.jsonl"
        self._record.touch()
        self._extra = self._seen = self._passed_before = 0
        self.door = Door()
        shipped = studio_file(studio, folder)
        self.opened = opened(shipped)
        self.studio = self.opened.studio
        self.jury = Jury(self.opened.judge)
        table = {"state": desk_table(self.studio), **beyond_switches(self.studio)}
        self.desk = SimulatedDesk(DESK, table)
        self.gate = self._gate()
        self.truth = Truth(self.studio, self.gate.jitter_s)
        self.away_s = AWAY_S if isinstance(self.gate, Relay) else AWAY_MIDI_S
        self.file = folder / shipped.name
        text = self._text(shipped.read_text(encoding="utf-8"))
        self.file.write_text(f"{text}\nservice: {{port: {self.door.port}}}\n", "utf-8")
        given = (str(self.file), str(self._record), *options)
        self._nursery = Nursery(given)
        self.service: Child | None = None

    # Where studios differ

    def _gate(self) -> Relay | MidiGate:
        devices = {
            device.name: device.device
            for device in self.studio.connections
            if isinstance(device, MidiDevice)
            and any(device.name in ports_of(c) for c in self.studio.controls.values())
        }
        if devices:
            return MidiGate(devices, self.desk.port, self.kill)
        return Relay(self.desk.port, self.rng, self.kill)

    def _text(self, text: str) -> str:
        """The studio's file with the relay where the desk would be."""
        if "192.168.4.20:9000" not in text or not isinstance(self.gate, Relay):
            return text
        return replaced(
            text,
            ("192.168.4.20:9000", f"127.0.0.1:{self.gate.port}"),
            (
                'from: {midi: "Pedal", control: 64}',
                f"from: {{osc: /pedal, sender: 127.0.0.1, listen: {kept_port()}}}",
            ),
        )

    # The service's life

    def start(self) -> None:
        """Start the service; it is not ready yet."""
        assert self.service is None
        self.service = self._nursery.bear()
        self.told.clear()
        self._passed_before = self.gate.passed["service"]

    def kill(self) -> None:
        """Kill the service where it stands (SIGKILL). Its contacts fall."""
        service, self.service = self.service, None
        assert service is not None
        os.kill(service.pid, signal.SIGKILL)
        service.end(politely=False)
        self._read(service)
        self.kills += 1
        self._fell()

    def terminate(self) -> int:
        """Tell the service to end (SIGTERM), with its gear there; its exit code."""
        service = self.service
        assert service is not None
        program = service._program
        program.terminate()
        self.turn(lambda: program.poll() is not None, WITHIN_S, watched=False)
        self.service = None
        code = service.end(politely=False)
        self._read(service)
        self._fell()
        return code

    @property
    def is_asked(self) -> bool:
        """Whether all gear that takes messages can be asked what it holds."""
        controls = self.studio.controls.values()
        return all(c.ask for c in controls if c.messages and not _is_contact(c))

    def restart(self) -> None:
        """Wait until nothing is on its way any more, then start again."""
        self.gate.fence(None)
        self.wait_away()
        self.start()

    def wait_away(self) -> None:
        """Until nothing of the last service is on its way any more."""
        self.turn(lambda: False, self.away_s)
        # A service from the nursery is there at once: on a busy machine the desk may
        # have packets of the last one in its queue still, older than any network's.
        self.turn(lambda: _is_empty(self.desk.port), WITHIN_S)

    def until_started(self) -> bool:
        """Wait until the service says that it has started; False if it died first."""
        return self.wait_for(lambda: self.has_told("started"))

    def arm(self, number: signal.Signals) -> None:
        """Tell the service when to kill itself; see `tests.faults.service`."""
        assert self.service is not None
        before = len(self._recorded())
        os.kill(self.service.pid, number)
        self.wait_for(lambda: len(self._recorded()) > before)

    def has_told(self, *kinds: str) -> bool:
        """Whether the service has told one of these since it was started."""
        return any(line.get("told") in kinds for line in self.told)

    def _fell(self) -> None:
        with self._record.open("a") as record:
            line = {"at": time.monotonic(), "contact": "", "driven": False}
            record.write(json.dumps(line) + "\n")

    def _recorded(self) -> list[dict[str, Any]]:
        text = self._record.read_text("utf-8")
        return [json.loads(line) for line in text.splitlines()]

    # Asking it

    def ask(self, scene: str) -> None:
        """Ask for a scene, and do not wait."""
        self.door.ask("/treadle/go", scene)

    def go(self, scene: str) -> str:
        """Ask for a scene; how it ended, or "died"."""
        self.ask(scene)
        return self.ended()

    def ended(self) -> str:
        """Wait for the end of what was asked; "died" if the service died first."""
        answer = self._answered()
        return "died" if answer is None else str(answer["ended"])

    def _answered(self) -> dict[str, Any] | None:
        found: list[dict[str, Any]] = []

        def answered() -> bool:
            answer = self.door.answer()
            if answer is not None:
                found.append(answer)
            return bool(found)

        return found[0] if self.wait_for(answered) else None

    def _finds_its_gear(self) -> bool:
        """Whether the service says that every port it drives is there."""
        self.door.ask("/treadle/status")
        answer = self._answered()
        assert answer is not None, "the service is dead"
        driven = {p for c in self.studio.controls.values() for p in ports_of(c)}
        lost = [p for p in answer["ports"] if p["name"] in driven and not p["is_found"]]
        if lost:
            self.turn(lambda: False, ASKED_AGAIN_S)
        return not lost

    def arrive(self, scene: str) -> int:
        """On a healthy network: ask until it is so; returns how often."""
        self.gate.weather = CALM
        ends = []
        for round_ in range(1, ROUNDS + 1):
            self.wait_for(self._finds_its_gear)
            ends.append(self.go(scene))
            if ends[-1] == "arrived":
                return round_
        told = "\n".join(str(line.get("words")) for line in self.told)
        msg = f"{scene} is not reached on a healthy network: {ends}; told:\n{told}"
        raise AssertionError(msg)

    def has_gear(self, end: str) -> bool:
        """Whether gear on a wire that loses nothing took a whole crossing."""
        return isinstance(self.gate, Relay) or end == "arrived"

    def go_and_see(self, scene: str) -> str:
        """The same, and all that was sent for it has come by then, or was lost."""
        end = self.go(scene)
        if end == "died" or isinstance(self.gate, Relay):
            return end
        self.door.ask("/treadle/status")
        answer = self._answered()
        if answer is None:
            return "died"
        there = self._passed_before + int(answer["sent"])
        self.turn(
            lambda: self.service is None or self.gate.passed["service"] >= there,
            ON_THE_WAY_S,
        )
        return "died" if self.service is None else end

    def lost_by_jack(self) -> int:
        """How many messages of the service that runs the JACK server has lost.

        One without real-time priority, on a busy machine, drops a whole period now
        and then. That is no wire that loses nothing, so it must be known.
        """
        if isinstance(self.gate, Relay):
            return 0
        self.door.ask("/treadle/status")
        answer = self._answered()
        assert answer is not None, "the service is dead"
        there = self._passed_before + int(answer["sent"])
        self.turn(lambda: self.gate.passed["service"] >= there, ON_THE_WAY_S)
        return there - self.gate.passed["service"]

    # The loop

    def wait_for(self, wanted: Callable[[], bool]) -> bool:
        """Go on until it is so (True), or until the service is dead (False)."""
        done = self.turn(lambda: self.service is None or wanted(), WITHIN_S)
        assert done, f"nothing came in {WITHIN_S:g} s; told: {self.told[-5:]}"
        return self.service is not None

    def turn(
        self, wanted: Callable[[], bool], within_s: float, *, watched: bool = True
    ) -> bool:
        """Go on until it is so (True), or for so long (False).

        watched: the service may end only by its death.
        """
        deadline = time.monotonic() + within_s
        while not wanted():
            left = deadline - time.monotonic()
            if left <= 0:
                return False
            due = self.gate.next_at
            if due is not None:
                left = max(0.0, min(left, due - time.monotonic()))
            waited: list[Any] = [*self.gate.sockets, self.door.socket]
            waited.append(self.desk.child._out)
            if self.service is not None:
                waited.append(self.service._out)
            select.select(waited, [], [], min(left, self.gate.patience_s))
            self.gate.work()
            self._look_after(watched)
        return True

    def _look_after(self, watched: bool) -> None:
        self.desk.changes()
        service = self.service
        if service is None:
            return
        service.pending()
        self._read(service)
        if watched and service._program.poll() is not None:  # it killed itself
            self.service = None
            code = service.end(politely=False)
            self._read(service)
            assert code == -signal.SIGKILL, (code, service.lines[-20:])
            self.kills += 1

    def _read(self, service: Child) -> None:
        """Take in what the service has said since; nothing but records is allowed."""
        for line in service.lines[len(self.told) :]:
            if not line.startswith("{"):
                service.end()
                raise AssertionError("no record, but:\n" + "\n".join(service.lines))
            self.told.append(json.loads(line))

    # The verdict

    def settle(self) -> list[str]:
        """Judge all that was until now; what was unsafe."""
        self.turn(lambda: False, AWAY_S)
        self.desk.state()  # it has said all that came before this
        changes = self.desk.changes()
        if isinstance(self.gate, MidiGate):
            stamps = self.gate.stamps
            changes = [
                {**line, "at": at} for line, at in zip(changes, stamps, strict=True)
            ]
        lines = [line for line in self._recorded() if "contact" in line]
        desk, contacts = changes[self._seen :], lines[self._extra :]
        self._seen, self._extra = len(changes), len(lines)
        self.jury.look(self.truth.follow(moves(self.studio, desk, contacts)))
        broken, self.jury.broken = self.jury.broken, []
        return broken

    def stands_as(self, scene: str) -> bool:
        """Whether everything truly is as a scene says."""
        values = self.studio.scenes[scene].values
        return all(self.truth.setting[name] == v for name, v in values.items())

    def close(self) -> None:
        """End everything."""
        if self.service is not None:
            self.service.end()
        self.desk.end()
        self.gate.close()
        self.door.socket.close()
        self._nursery.close()


def _is_contact(control: Control) -> bool:
    sent = [message for messages in control.messages.values() for message in messages]
    return all(isinstance(message, Contact) for message in sent)


def _is_empty(port: int) -> bool:
    """Whether no packet waits in the queue of this port, as Linux shows it: proc(5)."""
    lines = Path("/proc/net/udp").read_text("ascii").splitlines()[1:]
    waiting = [
        line.split()[4] for line in lines if line.split()[1].endswith(f":{port:04X}")
    ]
    assert waiting, f"nobody has port {port}"
    return all(queue.endswith(":00000000") for queue in waiting)
