"""A bare forwarder: the least that must happen between a press and a message.

It uses the same libraries as the service and nothing of the service: what comes in is
parsed, a message is built, and it goes out. Run as a program by `press_to_wire.py`.

    python -m tests.bench.forwarder osc PORT_OF_THE_DESK      says its own port
    python -m tests.bench.forwarder jack                      client "Forwarder"
"""

from __future__ import annotations

import asyncio
import sys
import time
from typing import cast

from pythonosc.osc_message import OscMessage
from pythonosc.osc_message_builder import OscMessageBuilder

POLL_S = 0.001
"""As often as the service's own helper looks."""


class OscForwarder(asyncio.DatagramProtocol):
    """Parses what comes in, builds one message, sends it on."""

    def __init__(self, desk_port: int) -> None:
        self._to = ("127.0.0.1", desk_port)

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        self._transport = cast("asyncio.DatagramTransport", transport)

    def datagram_received(self, data: bytes, addr: tuple[str, int]) -> None:
        number = OscMessage(data).params[0]
        builder = OscMessageBuilder("/strip/1/to/1")
        builder.add_arg(number, "i")
        self._transport.sendto(builder.build().dgram, self._to)


async def forward_osc(desk_port: int) -> None:
    """Forward until the process is ended."""
    loop = asyncio.get_running_loop()
    transport, _ = await loop.create_datagram_endpoint(
        lambda: OscForwarder(desk_port), local_addr=("127.0.0.1", 0)
    )
    _say(str(transport.get_extra_info("sockname")[1]))
    await asyncio.Event().wait()


def forward_jack() -> None:
    """Forward control changes until the process is ended."""
    import rtmidi

    api = rtmidi.API_UNIX_JACK
    incoming = rtmidi.MidiIn(api, name="Forwarder-in")
    outgoing = rtmidi.MidiOut(api, name="Forwarder-out")
    incoming.open_virtual_port("in")
    outgoing.open_virtual_port("out")
    _say("ready")
    while True:
        found = incoming.get_message()
        if found is None:
            time.sleep(POLL_S)
        else:
            outgoing.send_message([0xB0, 21, found[0][2]])


def _say(word: str) -> None:
    sys.stdout.write(f"{word}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    if sys.argv[1] == "osc":
        asyncio.run(forward_osc(int(sys.argv[2])))
    else:
        forward_jack()
