"""A board with GPIO chips whose lines are wired by hand, under gpiod's own classes.

Checking machines have no GPIO, so `FakeChip` stands in at the narrowest place: the
library's chip object. Settings, values and edge events are the library's real ones.
"""

import errno
import os
import time
from dataclasses import dataclass, field
from types import SimpleNamespace, TracebackType
from typing import Self

from gpiod import EdgeEvent, LineSettings
from gpiod.line import Bias, Direction, Value


@dataclass
class FakeLine:
    """One line: what it is called, who has it, and what pulls it from outside."""

    name: str = ""
    consumer: str | None = None
    pulled: bool | None = None
    history: list[str] = field(default_factory=list)


class FakeRequest:
    """A line that was taken: it has the level that physics gives it."""

    def __init__(self, line: FakeLine, offset: int, settings: LineSettings) -> None:
        self.settings = settings
        self._line, self._offset = line, offset
        self.is_broken = self.is_released = False
        self._events: list[EdgeEvent] = []
        self._count = 0
        self._read, self._write = os.pipe2(os.O_NONBLOCK)
        if settings.direction is Direction.OUTPUT:
            line.history.append(f"taken {self._word(settings.output_value)}")
        else:
            line.history.append("taken")

    @property
    def fd(self) -> int:
        return self._read

    @property
    def is_high(self) -> bool:
        """The electrical level of an input: the outside wins over the resistor."""
        if self._line.pulled is not None:
            return self._line.pulled
        return self.settings.bias is Bias.PULL_UP

    def set_value(self, line: int, value: Value) -> None:
        assert line == self._offset
        self._work()
        self._line.history.append(self._word(value))

    def read_edge_events(self, max_events: int | None = None) -> list[EdgeEvent]:
        self._work()
        taken, self._events = self._events[:max_events], self._events[max_events:]
        for _ in taken:
            os.read(self._read, 1)
        return taken

    def release(self) -> None:
        self.is_released = True
        self._line.consumer = None
        self._line.history.append("let go")
        os.close(self._read)
        os.close(self._write)

    def changed(self, timestamp_ns: int, *, was_high: bool) -> None:
        """Let the kernel see the level after something was wired."""
        if self.is_high != was_high:
            active = self.is_high != self.settings.active_low
            kind = EdgeEvent.Type.RISING_EDGE if active else EdgeEvent.Type.FALLING_EDGE
            self._count += 1
            event = EdgeEvent(
                kind.value, timestamp_ns, self._offset, self._count, self._count
            )
            self._events.append(event)
            os.write(self._write, b"!")

    def forget(self) -> None:
        """Lose an edge, as a kernel does whose buffer is full."""
        self._count += 1

    def break_down(self) -> None:
        """Let the chip be pulled out: the descriptor wakes, and every call fails."""
        self.is_broken = True
        os.write(self._write, b"!")

    def _work(self) -> None:
        if self.is_broken:
            raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))

    def _word(self, value: Value) -> str:
        return "driven" if value is Value.ACTIVE else "released"


class FakeChip:
    """A chip with a label and some lines."""

    def __init__(self, name: str, label: str, names: dict[int, str]) -> None:
        self.name, self.label = name, label
        self.lines = {k: FakeLine(names.get(k, "")) for k in range(32)}
        self.requests: dict[int, FakeRequest] = {}

    def get_info(self) -> SimpleNamespace:
        return SimpleNamespace(name=self.name, label=self.label, num_lines=32)

    def line_offset_from_id(self, name: str, /) -> int:
        for offset, line in self.lines.items():
            if line.name == name:
                return offset
        raise OSError(errno.ENOENT, os.strerror(errno.ENOENT))

    def get_line_info(self, line: int, /) -> SimpleNamespace:
        consumer = self.lines[line].consumer
        return SimpleNamespace(used=consumer is not None, consumer=consumer)

    def request_lines(
        self, config: dict[int, LineSettings], consumer: str, event_buffer_size: int
    ) -> FakeRequest:
        ((offset, settings),) = config.items()
        if self.lines[offset].consumer is not None:
            raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))
        self.lines[offset].consumer = consumer
        request = FakeRequest(self.lines[offset], offset, settings)
        self.requests[offset] = request
        return request

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
        /,
    ) -> None:
        """Nothing to close."""


class FakeBoard:
    """A computer's chips; give `board.access` to a contact."""

    def __init__(self, *chips: FakeChip) -> None:
        self.chips = {f"/dev/{chip.name}": chip for chip in chips}
        self.is_forbidden = False

    @property
    def access(self) -> tuple:  # type: ignore[type-arg]
        return self._open, lambda: list(self.chips)

    def _open(self, path: str) -> FakeChip:
        if self.is_forbidden:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), path)
        return self.chips[path]

    def wire(
        self, chip: str, offset: int, level: bool | None, late_by: float = 0.0
    ) -> None:
        """Pull a line high or low, or let it hang; the stamp may lie in the past."""
        line = self.chips[chip].lines[offset]
        request = self.chips[chip].requests.get(offset)
        was_high = request is not None and request.is_high
        line.pulled = level
        if request is not None and not request.is_released:
            stamp = time.monotonic_ns() - int(late_by * 1e9)
            request.changed(stamp, was_high=was_high)
