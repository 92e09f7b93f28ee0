"""MIDI devices by name, over whichever MIDI system this computer has.

Strategy: a `Backend` knows one system (ALSA's sequencer, JACK) and nothing of studios;
it tells one `MidiHub` which devices are there and what they say. The hub decides which
port of the studio gets which device, each time the list changes. So plugging in, twins
and wrong names are handled here once, for every system.
"""

import asyncio
import importlib.util
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Final, Literal

from bridge.adapters.midi_backend import Backend, Device, Link, Listener
from bridge.adapters.midi_names import absent, called, chosen
from bridge.adapters.midi_sensing import SensingWatch
from bridge.adapters.midi_twins import Twin
from bridge.adapters.presence import Adapter
from bridge.core.midi_sensing import SENSING
from bridge.core.midi_stream import BEATS, MidiStream, is_whole
from bridge.core.wire import Message, Midi
from bridge.engine.ports import Deliver, PortGone

Choice = Literal["auto", "alsa", "jack"]

VIRTUAL: Final = "virtual"
"""The device name that stands for: make ports here, and let others connect to them."""

SEQUENCER: Final = Path("/dev/snd/seq")

AGAIN_S: Final = 1.0
"""Between two attempts to connect to a device that is there and refuses."""

_CURES: Final = {
    "alsa": 'run "pip install alsa-midi" and "apt install alsa-utils"',
    "jack": 'run "pip install treadle[jack]"',
}
_BUILT: Final = (
    'run "apt install g++ pkgconf python3-dev libasound2-dev libjack-jackd2-dev" and '
    '"pip install python-rtmidi"'
)
"""The cure for JACK from Python 3.13 on, for which there is no ready wheel."""


class MidiHub:
    """Shares one backend between the MIDI ports of a studio."""

    def __init__(self, backend: Backend) -> None:
        self._backend = backend
        self._ports: dict[str, MidiPort] = {}
        self._devices: tuple[Device, ...] | None = None
        self._timer: asyncio.TimerHandle | None = None

    # For ports

    def attach(self, port: "MidiPort") -> None:
        """Look after a port; the first one starts the backend."""
        self._ports[port.name] = port
        if len(self._ports) == 1:
            self._backend.start(self)
        else:
            self._match([port])

    async def detach(self, port: "MidiPort") -> None:
        """Forget a port; the last one stops the backend."""
        if self._ports.pop(port.name, None) is None:
            return
        self._backend.leave(port.name)
        if not self._ports:
            self._devices = None
            if self._timer is not None:
                self._timer.cancel()
            await self._backend.stop()

    def send(self, port: "MidiPort", data: bytes) -> None:
        """Send one whole message. Raises PortGone."""
        self._backend.send(port.name, data)

    # For the backend

    def devices(self, devices: tuple[Device, ...]) -> None:
        """Find each port's device among those that are there now."""
        self._devices = devices
        self._match(self._ports.values())

    def joined(self, port: str) -> None:
        """Tell the port that it is connected."""
        if port in self._ports:
            self._ports[port].joined()

    def failed(self, port: str, why: str) -> None:
        """Tell the port that it is not connected, and try again later."""
        if port in self._ports:
            self._ports[port].unlinked(why)
        if self._timer is not None:
            self._timer.cancel()
        loop = asyncio.get_running_loop()
        self._timer = loop.call_later(
            AGAIN_S, lambda: self._match(self._ports.values())
        )

    def heard(self, port: str, data: bytes, at: float) -> None:
        """Pass on what came in at a port."""
        if port in self._ports:
            self._ports[port].came_in(data, at)

    def gone(self, why: str) -> None:
        """Tell every port that it has nothing."""
        self._devices = None
        for port in self._ports.values():
            port.unlinked(why)

    def _held_beside(self, port: "MidiPort") -> frozenset[str]:
        """The addresses of the twins that other ports hold."""
        links = (o.link for o in self._ports.values() if o is not port and o.has_twin)
        ends = (end for link in links if link for end in (link.source, link.sink))
        return frozenset(end.address for end in ends if end is not None)

    def _match(self, ports: Iterable["MidiPort"]) -> None:
        if self._devices is None:
            return
        for port in ports:
            link = port.link_among(self._devices, self._held_beside(port))
            if port.link is not None and port.link != link:
                self._backend.leave(port.name)
            if isinstance(link, str):
                port.unlinked(link)
            elif port.link != link:
                port.link = link
                self._backend.join(port.name, link)


class MidiPort(Adapter):
    """One MIDI device of the studio, in and out.

    `device` is the name of what is sent to, and of what is heard unless `hears` names
    another (JACK prints a program's input and output apart). `nth` settles twins. The
    device "virtual" makes ports here that other programs connect to.
    """

    def __init__(
        self,
        name: str,
        device: str,
        hub: MidiHub,
        *,
        nth: int | None = None,
        hears: str | None = None,
    ) -> None:
        super().__init__(name)
        self.link: Link | None = None
        self._device, self._hears, self._nth = device, hears or device, nth
        self._twin = Twin()
        self._hub = hub
        self._stream = MidiStream()
        self._sensing = SensingWatch(self._presence)

    @property
    def drops(self) -> dict[str, int]:
        """Dropped messages by cause."""
        return Counter(self._presence.drops) + self._stream.drops

    async def open(self, deliver: Deliver) -> None:
        """Begin; says `Found` or `Lost` as soon as the MIDI system has answered."""
        self._presence.begin(deliver, asyncio.get_running_loop().time)
        self._hub.attach(self)

    def send(self, message: Message) -> None:
        """Send one whole message. Raises PortGone."""
        presence = self._presence
        if not presence.is_found or self.link is None:
            presence.refuse("sent while lost", presence.why)
        if not isinstance(message, Midi) or not is_whole(message.data):
            presence.refuse("not one MIDI message", f"not one MIDI message: {message}")
        if self.link.sink is None and self.link.source is not None:
            why = f'nothing called "{self._device}" takes messages'
            presence.refuse("nothing to send to", why)
        try:
            self._hub.send(self, message.data)
        except PortGone as gone:
            presence.refuse("not taken", str(gone))

    async def close(self) -> None:
        """Disconnect. Safe to call twice."""
        self._presence.hush()
        self._sensing.forget()
        self.link = None
        await self._hub.detach(self)

    # For the hub

    @property
    def has_twin(self) -> bool:
        """Whether it is one of several devices of the same name."""
        return self._nth is not None

    def link_among(
        self, devices: tuple[Device, ...], taken: frozenset[str] = frozenset()
    ) -> Link | str:
        """Return what to connect to, or why nothing can be.

        taken: addresses that twins hold. A twin that goes or comes must not make it
        another one by the count.
        """
        if self._device == VIRTUAL:
            return Link()
        twin = self._twin
        if self.has_twin and twin.is_there(devices):
            assert twin.link is not None
            return twin.link
        gives, takes = [d for d in devices if d.gives], [d for d in devices if d.takes]
        if (was := twin.link) is not None:
            source = twin.again(self._hears, was.source, gives, taken)
            sink = twin.again(self._device, was.sink, takes, taken)
        else:
            source = chosen(self._hears, self._nth, gives, taken)
            sink = chosen(self._device, self._nth, takes, taken)
        for word in (source, sink):
            if isinstance(word, str):
                return word
        if source is None and sink is None:
            return absent(self._device, devices)
        assert not isinstance(source, str)
        assert not isinstance(sink, str)
        link = Link(source, sink)
        if self.has_twin:
            names = (self._hears, self._device)
            twin.linked(link, (d for name in names for d in called(name, devices)))
        return link

    def joined(self) -> None:
        """Take note that the link stands."""
        self._stream.restart()
        self._sensing.forget()
        self._presence.found()

    def unlinked(self, why: str) -> None:
        """Take note that there is no link."""
        self.link = None
        self._sensing.forget()
        self._presence.lost(why)

    def came_in(self, data: bytes, at: float) -> None:
        """Pass on the whole messages that these bytes complete."""
        if self._device != VIRTUAL:  # who is silent of many is not known
            self._sensing.came(data, at)
        for message in self._stream.feed(data):
            if message[0] in BEATS:
                self._presence.drops["clock or time code"] += 1
            elif message[0] != SENSING:
                self._presence.heard(Midi(self.name, message), at)


class NoBackend:
    """Stands for a MIDI system whose library is missing, and says how to get it."""

    def __init__(self, why: str) -> None:
        self.why = why

    def start(self, listener: Listener) -> None:
        """Say why there is nothing."""
        listener.gone(self.why)

    def join(self, port: str, link: Link) -> None:
        """Nothing can be connected."""

    def leave(self, port: str) -> None:
        """Nothing is connected."""

    def send(self, port: str, data: bytes) -> None:  # noqa: ARG002
        """Refuse. Raises PortGone."""
        raise PortGone(self.why)

    async def stop(self) -> None:
        """Nothing was started."""


def backend_for(choice: Choice) -> Backend:
    """Return the backend for a choice; it looks at files, so call it before the loop.

    "auto" is ALSA's sequencer where this computer has one, else JACK if its library is
    installed.
    """
    if choice == "auto":
        has_jack = importlib.util.find_spec("rtmidi") is not None
        choice = "alsa" if SEQUENCER.exists() or not has_jack else "jack"
    try:
        if choice == "alsa":
            from bridge.adapters.midi_alsa import AlsaBackend

            return AlsaBackend()
        from bridge.adapters.midi_rtmidi import RtmidiBackend
    except (ImportError, OSError) as error:
        is_built = choice == "jack" and sys.version_info >= (3, 13)
        return NoBackend(f"{error}: {_BUILT if is_built else _CURES[choice]}")
    return RtmidiBackend()
