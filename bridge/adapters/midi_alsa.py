"""MIDI over ALSA's sequencer, by alsa-midi.

Strategy: the library's methods that do not wait, and one reader in the event loop.
Its awaitable `event_input` never yields while events keep coming and leaves its reader
behind when it is cancelled; its "direct" output sends only the first kilobyte. The
sequencer's own announcements tell of every device that comes or goes.
"""

import asyncio
import contextlib
import errno
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Final, Protocol

from alsa_midi import ALSAError, MidiBytesEvent, PortCaps, PortInfo, PortType
from alsa_midi.client import SequencerClientBase

from bridge.adapters.midi_backend import Device, Link, Listener
from bridge.engine.ports import PortGone

CLIENT: Final = "treadle"

AGAIN_S: Final = 15.0
"""Between two attempts to open a sequencer that is not there. Systems load it when it
is first opened, so this is rare; the library writes a line to the log each time."""

AT_ONCE: Final = 64
"""Events read before the loop gets its turn; a desk's burst, some milliseconds."""

CARDS: Final = Path("/sys/class/sound")
"""Where the kernel shows its sound cards, each with a link to what it is plugged into:
a USB device by the numbers of its sockets."""

_ANNOUNCE: Final = (0, 1)
"""System:Announce, where the sequencer tells what comes and goes."""

_BOTH_WAYS: Final = (
    PortCaps.READ | PortCaps.SUBS_READ | PortCaps.WRITE | PortCaps.SUBS_WRITE
)
_CURE: Final = 'run "sudo modprobe snd-seq", and be a member of the group "audio"'


class Sequencer(Protocol):
    """What is used of the library's client; nothing of it waits."""

    client_id: int

    def fileno(self) -> int:
        """Return the descriptor that is readable when events are there."""

    def create_port(self, name: str, caps: PortCaps) -> Any:  # noqa: ANN401
        """Make a port of ours; it has `port_id` and `close`. Raises ALSAError."""

    def list_ports(self) -> Sequence[PortInfo]:
        """Return everybody's ports, `client_name` included. Raises ALSAError."""

    def socket_of(self, client_id: int) -> str:
        """Return where the device of a client is plugged in; "" if it is none."""

    def subscribe_port(self, sender: object, dest: object) -> None:
        """Connect two ports. Raises ALSAError."""

    def event_input(self) -> Any:  # noqa: ANN401
        """Return the next event. Raises ALSAError, with EAGAIN if there is none."""

    def send(self, data: bytes, port_id: int) -> None:
        """Send one message to whoever is subscribed. Raises ALSAError."""

    def close(self) -> None:
        """Let go of everything."""


class _Client(SequencerClientBase):  # type: ignore[misc]  # the library is untyped
    """The library's client, reduced to calls that do not wait."""

    def fileno(self) -> int:
        return int(self._fd)

    def event_input(self) -> Any:  # noqa: ANN401
        return super().event_input(prefer_bytes=True)

    def list_ports(self) -> Sequence[PortInfo]:
        found: Sequence[PortInfo] = super().list_ports(type=PortType.ANY, sort=False)
        return found

    def socket_of(self, client_id: int) -> str:
        try:
            card = self.get_client_info(client_id).card_id
            return "" if card is None else plugged(int(card))
        except (ALSAError, OSError):
            return ""  # it has gone meanwhile, or is no device

    def send(self, data: bytes, port_id: int) -> None:
        try:
            self.event_output(MidiBytesEvent(data), port=port_id)
            self.drain_output()
        except ALSAError:
            self.drop_output()  # what was not sent now must not be sent later
            raise


def _open_client() -> Sequencer:
    return _Client(CLIENT)


class AlsaBackend:
    """The sequencer's devices; one port here, of the client "treadle", for each."""

    def __init__(self, open_client: Callable[[], Sequencer] = _open_client) -> None:
        self._open_client = open_client
        self._listener: Listener | None = None
        self._client: Sequencer | None = None
        self._ports: dict[str, Any] = {}
        self._watch: Any = None
        self._told: tuple[Device, ...] | None = None
        self._timer: asyncio.TimerHandle | None = None

    def start(self, listener: Listener) -> None:
        """Open the sequencer, now or as soon as there is one."""
        self._listener = listener
        self._open()

    async def stop(self) -> None:
        """Close the sequencer."""
        self._listener = None
        if self._timer is not None:
            self._timer.cancel()
        self._close()

    def join(self, port: str, link: Link) -> None:
        """Make a port and connect it."""
        if self._client is None or self._listener is None:
            return
        try:
            own = self._client.create_port(port, _BOTH_WAYS)
            self._ports[port] = own
            here = (self._client.client_id, own.port_id)
            if link.source is not None:
                self._client.subscribe_port(_address(link.source), here)
            if link.sink is not None:
                self._client.subscribe_port(here, _address(link.sink))
        except ALSAError as error:
            self.leave(port)
            self._listener.failed(port, f"ALSA does not connect it: {error}")
        else:
            self._listener.joined(port)

    def leave(self, port: str) -> None:
        """Take a port and its connections away."""
        own = self._ports.pop(port, None)
        if own is not None:
            with contextlib.suppress(ALSAError):
                own.close()

    def send(self, port: str, data: bytes) -> None:
        """Send one message. Raises PortGone."""
        if self._client is None or port not in self._ports:
            msg = "it is not connected"
            raise PortGone(msg)
        try:
            self._client.send(data, self._ports[port].port_id)
        except ALSAError as error:
            msg = f"ALSA does not send it: {error}"
            raise PortGone(msg) from error

    # The sequencer

    def _open(self) -> None:
        try:
            self._client = self._open_client()
            self._watch = self._client.create_port("watch", PortCaps.WRITE)
            self._client.subscribe_port(
                _ANNOUNCE, (self._client.client_id, self._watch.port_id)
            )
        except ALSAError as error:
            self._fail(f"the ALSA sequencer cannot be opened ({error}): {_CURE}")
            return
        loop = asyncio.get_running_loop()
        loop.add_reader(self._client.fileno(), self._readable)
        self._tell_devices()

    def _close(self) -> None:
        client, self._client = self._client, None
        self._watch, self._told = None, None
        self._ports.clear()
        if client is not None:
            asyncio.get_running_loop().remove_reader(client.fileno())
            client.close()

    def _fail(self, why: str) -> None:
        """Give up this client, say so, and open another later."""
        self._close()
        if self._listener is not None:
            self._listener.gone(why)
            loop = asyncio.get_running_loop()
            self._timer = loop.call_later(AGAIN_S, self._open)

    def _readable(self) -> None:
        """Take what has come, and give the loop its turn now and then."""
        news = False
        for _ in range(AT_ONCE):
            if self._client is None:
                return
            try:
                event = self._client.event_input()
            except ALSAError as error:
                self._no_event(error)
                break
            if isinstance(event, MidiBytesEvent):
                self._heard(event)
            else:
                news = True
        else:
            # What the library has read already wakes nobody.
            asyncio.get_running_loop().call_soon(self._readable)
        if news:
            self._tell_devices()

    def _no_event(self, error: ALSAError) -> None:
        match -error.errnum:
            case errno.EAGAIN:
                pass
            case errno.ENOSPC:
                # What was lost is unknown, so every port must be asked anew.
                if self._listener is not None:
                    self._listener.gone("more MIDI came at once than ALSA could keep")
                for port in list(self._ports):
                    self.leave(port)
                self._told = None
                self._tell_devices()
            case _:
                self._fail(f"the ALSA sequencer has failed: {error}")

    def _heard(self, event: MidiBytesEvent) -> None:
        at = asyncio.get_running_loop().time()
        for port, own in self._ports.items():
            if event.dest is not None and event.dest.port_id == own.port_id:
                if self._listener is not None:
                    self._listener.heard(port, event.midi_bytes, at)
                return

    def _tell_devices(self) -> None:
        if self._client is None or self._listener is None:
            return
        try:
            ports = self._client.list_ports()
        except (ALSAError, UnicodeDecodeError) as error:
            self._fail(f"the ALSA sequencer cannot list its devices: {error}")
            return
        own = self._client.client_id
        devices = tuple(
            _device(port, self._client.socket_of(port.client_id))
            for port in ports
            if port.client_id != own
        )
        if devices != self._told:
            self._told = devices
            self._listener.devices(devices)


def plugged(card: int) -> str:
    """Where a sound card is plugged in: "../../../3-1.2:1.0". Raises OSError.

    The kernel's own memory answers, so the loop may wait for it.
    """
    return os.readlink(CARDS / f"card{card}" / "device")  # noqa: PTH115  as it is


def _device(port: PortInfo, socket: str) -> Device:
    return Device(
        name=f"{port.client_name}:{port.name}",
        address=f"{port.client_id}:{port.port_id}",
        gives=bool(port.capability & PortCaps.SUBS_READ),
        takes=bool(port.capability & PortCaps.SUBS_WRITE),
        socket=f"{socket} port {port.port_id}" if socket else "",
    )


def _address(device: Device) -> tuple[int, int]:
    client, _, port = device.address.partition(":")
    return int(client), int(port)
