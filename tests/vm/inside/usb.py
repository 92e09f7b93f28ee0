"""USB MIDI devices of the kernel's own: both ends are here, and the plug between.

The host's end is what any program sees as a MIDI device. The far end is a raw MIDI
file of another card: who holds it is the device. Pulling the plug is what a hand does:
the controller disappears from the bus.
"""

from __future__ import annotations

import errno
import itertools
import os
import re
import time
from pathlib import Path

GADGETS = Path("/sys/kernel/config/usb_gadget")
PATIENCE_S = 60.0
_made = itertools.count()
_STEP_S = 0.05


class UsbMidi:
    """One device called `name`, at the controller of this number (0 to 2)."""

    def __init__(self, name: str, number: int) -> None:
        self.name = name
        self._controller = f"dummy_udc.{number}"
        serial = next(_made)
        self._card = f"far{serial}"
        self._folder = GADGETS / self._card
        self._far: int | None = None
        self._near: set[tuple[str, str]] = set()
        self._rest = b""
        _write(self._folder / "idVendor", "0x1d6b")
        _write(self._folder / "idProduct", f"0x01{number:02x}")
        _write(self._folder / "strings/0x409/product", name)
        _write(self._folder / "strings/0x409/manufacturer", "Workshop")
        function = self._folder / "functions/midi.0"
        _write(function / "id", self._card)
        wanted = self._folder / "configs/c.1"
        wanted.mkdir(parents=True, exist_ok=True)
        if not (wanted / "midi.0").exists():
            (wanted / "midi.0").symlink_to(function)

    def plug(self) -> None:
        """Put the plug in; return when both ends are there."""
        alike = set(self._cards())
        _write(self._folder / "UDC", self._controller)
        deadline = time.monotonic() + PATIENCE_S
        while time.monotonic() < deadline:
            far = self._far_file()
            self._near = set(self._cards()) - alike
            if far is not None and far.exists() and self._near:
                self._far = os.open(far, os.O_RDWR | os.O_NONBLOCK)
                self._rest = self._taken()  # it hears from the first read on
                return
            time.sleep(_STEP_S)
        msg = f"{self.name} does not come"
        raise TimeoutError(msg)

    def unplug(self) -> None:
        """Pull the plug; return when the host has no card of it. Safe to call twice."""
        if self._far is None:
            return
        os.close(self._far)
        self._far = None
        _write(self._folder / "UDC", "\n")
        deadline = time.monotonic() + PATIENCE_S
        while not self._near.isdisjoint(self._cards()):
            assert time.monotonic() < deadline, f"{self.name} does not go"
            time.sleep(_STEP_S)

    def peek(self) -> bool:
        """Whether there is something to read."""
        self._rest += self._taken()
        return bool(self._rest)

    def read(self) -> bytes:
        """Take what the host has sent so far; nothing, if it is not plugged in."""
        taken, self._rest = self._rest + self._taken(), b""
        return taken

    def _taken(self) -> bytes:
        if self._far is None:
            return b""
        try:
            return os.read(self._far, 4096)
        except OSError as error:
            if error.errno not in (errno.EAGAIN, errno.ENODEV):
                raise
            return b""

    def say(self, data: bytes) -> None:
        """Say something to the host."""
        assert self._far is not None
        os.write(self._far, data)

    def file(self) -> str:
        """The host's own file of this device, of which there must be one."""
        ((number, _),) = self._cards()
        return f"/dev/snd/midiC{number}D0"

    def _cards(self) -> list[tuple[str, str]]:
        """The host's cards of this name: number and name, as the kernel lists them."""
        listed = Path("/proc/asound/cards").read_text()
        found = re.findall(r"^ *(\d+) \[.*\]: USB-Audio - (.*)$", listed, re.MULTILINE)
        return [card for card in found if card[1] == self.name]

    def _far_file(self) -> Path | None:
        for number in range(8):
            name = Path(f"/proc/asound/card{number}/id")
            if name.exists() and name.read_text().strip() == self._card:
                return Path(f"/dev/snd/midiC{number}D0")
        return None


def _write(file: Path, text: str) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text)
