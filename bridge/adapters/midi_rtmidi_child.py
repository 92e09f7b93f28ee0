"""The helper process that alone loads python-rtmidi; see midi_rtmidi.py for why.

It reads orders and writes news, one JSON object a line, and is allowed to hang. It
never uses the library's callbacks: they run on JACK's own thread and can deadlock the
process. It ends when its orders end, or when the JACK server does.
"""

import json
import os
import select
import sys
import time
from typing import Any, Final

import rtmidi

POLL_S: Final = 0.001
"""Between two looks at an open input: adds half a millisecond to a press. With JACK's
own threads that took 4 to 6 % of a desktop core; with nothing to hear it sleeps."""

BEAT_S: Final = 0.25
"""Between two proofs that the server runs, and two looks at the list of ports. The
list costs a millisecond for forty ports."""

DEAD_S: Final = 2.0
"""No proof coming back for this long means that the server is dead. JACK's longest
period is under 0.2 s, but a server short of time drops a message now and then, so each
beat sends another proof."""

AGAIN_S: Final = 1.0
"""Between two attempts to reach a server that is not there."""

QUEUE: Final = 1024
"""Messages that the library keeps for us: a second of the densest MIDI."""

CLIENT: Final = "treadle"
_NAME_BYTES: Final = 40
_ORDER_BYTES: Final = 65536


class Watch:
    """An output connected to an input: what is sent comes back while the server runs.

    The same two objects list everybody's ports, for the life of the process.
    """

    def __init__(self, sinks: Any, sources: Any) -> None:  # noqa: ANN401  untyped
        self.sinks, self.sources = sinks, sources
        self._asked: set[int] = set()
        self._number = 0
        self._since = 0.0

    def close(self) -> None:
        """Leave JACK."""
        for side in (self.sinks, self.sources):
            side.close_port()
            side.delete()

    @property
    def is_waiting(self) -> bool:
        """Tell whether a proof is under way."""
        return bool(self._asked)

    def ask(self) -> None:
        """Send a proof; any that is under way counts, whichever comes back first."""
        if not self._asked:
            self._since = time.monotonic()
        self._number = (self._number + 1) % 128
        self._asked.add(self._number)
        self.sinks.send_message((0xB0, 0, self._number))

    def is_answered(self) -> bool:
        """Tell, once, that a proof has come back; an older one's echo is none."""
        while (echo := self.sources.get_message()) is not None:
            if echo[0][2] in self._asked:
                self._asked.clear()
                return True
        return False

    def is_dead(self) -> bool:
        """Tell that the proofs stay away."""
        return self.is_waiting and time.monotonic() - self._since > DEAD_S

    def devices(self) -> list[list[str]]:
        """Return [name, "gives" or "takes"] of everybody else's ports."""
        both = (("gives", self.sources), ("takes", self.sinks))
        return [
            [name, way]
            for way, side in both
            for name in side.get_ports()
            if not name.startswith(f"{CLIENT}-")
        ]


def _watch() -> Watch:
    """Open the watch. Raises rtmidi.SystemError if there is no server."""
    own = f"{CLIENT}-watch-{os.getpid()}"
    sinks = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name=f"{own}-out")
    sources = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name=f"{own}-in")
    sinks.open_virtual_port("out")
    _open(sources, f"{own}-out:out", "in")
    return Watch(sinks, sources)


class Helper:
    """Carries out orders; every message that leaves or arrives goes through here.

    A message counts as sent when a proof that was sent after it has come back, so
    whoever waits for that never fills the library's buffer of a dead server.
    """

    def __init__(self, watch: Watch) -> None:
        self._watch = watch
        self._ins: dict[str, Any] = {}
        self._outs: dict[str, Any] = {}
        self._told: list[list[str]] | None = None
        self._unproved = 0
        self._under_proof = 0
        self._next_beat = 0.0

    def carry_out(self, order: dict[str, Any]) -> None:
        """Do one order."""
        port = order["port"]
        match order["do"]:
            case "send":
                if port in self._outs:
                    self._outs[port].send_message(bytes.fromhex(order["data"]))
                self._unproved += 1
            case "join":
                self._leave(port)
                try:
                    self._join(port, order["source"], order["sink"])
                except (ValueError, OSError) as error:
                    self._leave(port)
                    tell(failed=port, why=str(error) or "it is no longer there")
                else:
                    tell(joined=port)
            case _:
                self._leave(port)

    def _join(self, port: str, source: str | None, sink: str | None) -> None:
        others_connect = source is None and sink is None
        if source is not None or others_connect:
            side = rtmidi.MidiIn(
                rtmidi.API_UNIX_JACK, name=_client(port, "in"), queue_size_limit=QUEUE
            )
            self._ins[port] = side
            side.ignore_types(sysex=False, timing=True, active_sense=False)
            _open(side, source, "in")
        if sink is not None or others_connect:
            self._outs[port] = rtmidi.MidiOut(
                rtmidi.API_UNIX_JACK, name=_client(port, "out")
            )
            _open(self._outs[port], sink, "out")

    def _leave(self, port: str) -> None:
        for sides in (self._ins, self._outs):
            side = sides.pop(port, None)
            if side is not None:
                side.close_port()
                side.delete()

    def close(self) -> None:
        """Leave JACK."""
        for port in {*self._ins, *self._outs}:
            self._leave(port)
        self._watch.close()

    def look(self) -> None:
        """Tell what came in."""
        for port, side in self._ins.items():
            for _ in range(QUEUE):
                message = side.get_message()
                if message is None:
                    break
                tell(heard=port, data=bytes(message[0]).hex(), at=time.monotonic())

    def prove(self) -> bool:
        """Keep proofs going; False if the server is dead."""
        if self._watch.is_answered():
            tell(sent=self._under_proof)
            self._under_proof = 0
        due = time.monotonic() >= self._next_beat
        if self._unproved and not self._watch.is_waiting:
            self._under_proof, self._unproved = self._unproved, 0
            self._watch.ask()
        elif due:
            self._watch.ask()
        if due:
            self._next_beat = time.monotonic() + BEAT_S
            self._tell_devices()
        return not self._watch.is_dead()

    def _tell_devices(self) -> None:
        devices = self._watch.devices()
        if devices != self._told:
            self._told = devices
            tell(devices=devices)

    @property
    def pause(self) -> float:
        """How long to sleep when nothing is ordered."""
        return POLL_S if self._ins or self._watch.is_waiting else BEAT_S


def _client(port: str, way: str) -> str:
    """Return a client name that JACK takes and that stays the same."""
    cut = port.replace(":", " ").encode()[:_NAME_BYTES].decode(errors="ignore")
    return f"{CLIENT}-{cut}-{way}"


def _open(side: Any, peer: str | None, name: str) -> None:  # noqa: ANN401  untyped library
    if peer is None:
        side.open_virtual_port(name)
    else:
        side.open_port(side.get_ports().index(peer), name=name)


def tell(**news: object) -> None:
    """Write one line of news."""
    os.write(sys.stdout.fileno(), json.dumps(news).encode() + b"\n")


def orders(waiting: bytearray, pause: float) -> list[dict[str, Any]] | None:
    """Return the orders that have come, after at most `pause` s; None at their end."""
    readable, _, _ = select.select([sys.stdin], [], [], pause)
    if readable:
        data = os.read(sys.stdin.fileno(), _ORDER_BYTES)
        if not data:
            return None
        waiting += data
    *whole, rest = waiting.split(b"\n")
    waiting[:] = rest
    return [json.loads(line) for line in whole]


NO_SERVER = (
    "no JACK server is running for this user: start it, or write the device's file "
    "instead of its name, as in midi: /dev/snd/midiC1D0"
)


def reach_server(waiting: bytearray) -> Watch | None:
    """Wait for a server; None if the orders end first."""
    while True:
        try:
            return _watch()
        except rtmidi.SystemError:
            tell(gone=NO_SERVER)
        # Orders that were meant for a server that is not there are void.
        if orders(waiting, AGAIN_S) is None:
            return None


def main() -> None:
    """Serve until the orders end or the server dies."""
    waiting = bytearray()
    watch = reach_server(waiting)
    if watch is None:
        return
    helper = Helper(watch)
    while (todo := orders(waiting, helper.pause)) is not None:
        for order in todo:
            helper.carry_out(order)
        helper.look()
        if not helper.prove():
            tell(gone="the JACK server does not run any more: start it again")
            os._exit(1)  # the library would wait for the dead server while closing
    helper.close()


if __name__ == "__main__":
    main()
