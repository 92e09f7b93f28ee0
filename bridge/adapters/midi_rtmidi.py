"""MIDI over JACK, by python-rtmidi in a process of its own.

Why a process: with the server hung, opening a client waits for ever, and with the
server dead, `send` spins for ever once the library's 16 KiB are full, both with the
interpreter locked. Nothing inside a process can end that, so it happens in a helper
(midi_rtmidi_child.py) that says four times a second that all is well, and is killed
when it does not. What it was given at that moment is lost, as when a cable is pulled.
"""

import asyncio
import contextlib
import importlib.util
import json
import os
import sys
from pathlib import Path
from typing import Any, Final

import bridge
from bridge.adapters.midi_backend import Device, Link, Listener
from bridge.engine.ports import PortGone

SILENCE_S: Final = 3.0
"""A helper that says nothing for this long hangs. It speaks each 0.25 s, opening a
client takes some tens of milliseconds, and its own start half a second on a small
core."""

AGAIN_S: Final = 1.0
"""Between the end of one helper and the start of the next."""

CLOSING_S: Final = 1.0
"""How long the helper may take to close; a running server needs some hundredths."""

BYTES_UNDER_WAY: Final = 4096
"""What may be given to the helper and not be confirmed, each message with the 4 bytes
that the library adds: 585 control changes, more than a scene for a whole desk. A
confirmation can be one period early, and the buffer holds 16 KiB."""

_NEWS_BYTES: Final = 65536
_MODULE: Final = "bridge.adapters.midi_rtmidi_child"

if importlib.util.find_spec("rtmidi") is None:
    msg = "python-rtmidi is not installed"
    raise ImportError(msg)


class RtmidiBackend:
    """JACK's MIDI ports. Clients here are called "treadle-NAME-in" and "-out".

    `helper` is the process that runs now, if any.
    """

    def __init__(self) -> None:
        self.helper: asyncio.subprocess.Process | None = None
        self._listener: Listener | None = None
        self._life: asyncio.Task[None] | None = None
        self._orders: asyncio.StreamWriter | None = None
        self._sizes: list[int] = []
        self._why = ""

    def start(self, listener: Listener) -> None:
        """Start a helper, and another whenever one ends."""
        self._listener = listener
        self._life = asyncio.get_running_loop().create_task(self._live())

    def join(self, port: str, link: Link) -> None:
        """Order a connection; news of it follows."""
        source = link.source.address if link.source is not None else None
        sink = link.sink.address if link.sink is not None else None
        self._order(do="join", port=port, source=source, sink=sink)

    def leave(self, port: str) -> None:
        """Order a port to be taken away."""
        self._order(do="leave", port=port)

    def send(self, port: str, data: bytes) -> None:
        """Give a message to the helper. Raises PortGone."""
        if self._orders is None:
            raise PortGone(self._why)
        size = len(data) + 4
        if self._sizes and sum(self._sizes) + size > BYTES_UNDER_WAY:
            msg = "JACK does not take messages as fast as they are sent"
            raise PortGone(msg)
        self._sizes.append(size)
        self._order(do="send", port=port, data=data.hex())

    async def stop(self) -> None:
        """End the helper."""
        self._listener = None
        if self._life is not None:
            self._life.cancel()
            await asyncio.gather(self._life, return_exceptions=True)
            self._life = None

    def _order(self, **order: str | None) -> None:
        if self._orders is not None:
            self._orders.write(json.dumps(order).encode() + b"\n")

    # The helper's life

    async def _live(self) -> None:
        while True:
            why = await self._one_helper()
            if self._listener is not None:
                self._listener.gone(why)
            await asyncio.sleep(AGAIN_S)

    async def _one_helper(self) -> str:
        """Run one helper until it ends or hangs; return why that was."""
        self._why = "the MIDI helper process ended"
        root = str(Path(bridge.__file__).parent.parent)
        path = os.pathsep.join(filter(None, (root, os.environ.get("PYTHONPATH"))))
        helper = await asyncio.create_subprocess_exec(
            sys.executable,
            "-m",
            _MODULE,
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.DEVNULL,  # the library's chatter
            limit=_NEWS_BYTES,
            env=os.environ | {"PYTHONPATH": path},
            start_new_session=True,  # an interrupt at the keyboard is for the service
        )
        assert helper.stdin is not None
        assert helper.stdout is not None
        self.helper, self._orders, self._sizes = helper, helper.stdin, []
        try:
            await self._read(helper.stdout)
        except TimeoutError:
            self._why = "the JACK server hangs: the MIDI helper process was ended"
            helper.kill()
        except ValueError:
            self._why = "the MIDI helper process told nonsense"
        finally:
            self._orders = None
            await _ended(helper)
            self.helper = None
        return self._why

    async def _read(self, news: asyncio.StreamReader) -> None:
        while True:
            async with asyncio.timeout(SILENCE_S):
                line = await news.readline()
            if not line:
                return
            self._take(json.loads(line))

    def _take(self, news: dict[str, Any]) -> None:
        listener = self._listener
        if listener is None:
            return
        match news:
            case {"heard": port, "data": data, "at": at}:
                listener.heard(port, bytes.fromhex(data), at)
            case {"sent": count}:
                del self._sizes[:count]
            case {"devices": devices}:
                listener.devices(tuple(_device(*device) for device in devices))
            case {"joined": port}:
                listener.joined(port)
            case {"failed": port, "why": why}:
                listener.failed(port, f"JACK does not connect it: {why}")
            case {"gone": why}:
                self._why = why
                listener.gone(why)
            case _:
                pass


async def _ended(helper: asyncio.subprocess.Process) -> None:
    """Let the helper leave JACK in good order, but not for long."""
    assert helper.stdin is not None
    helper.stdin.close()
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(CLOSING_S):
            await helper.wait()
    with contextlib.suppress(ProcessLookupError):
        helper.kill()
    await helper.wait()


def _device(name: str, way: str) -> Device:
    return Device(name, address=name, gives=way == "gives", takes=way == "takes")
