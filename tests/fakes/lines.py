"""A relay, a relay board and a pedal that are only fakes."""

from dataclasses import replace

from bridge.core.wire import Coil, Contact, Message
from tests.fakes.clock import SimulatedClock
from tests.fakes.port import FakePort


class FakeRelay(FakePort):
    """A line out; `is_driven` is its level."""

    is_driven = False

    def misfit(self, message: Message) -> str:
        if not isinstance(message, Contact):
            return f"a line cannot send {message}"
        return super().misfit(message)

    def send(self, message: Message) -> None:
        super().send(message)
        if self.received and isinstance(self.received[-1], Contact):
            self.is_driven = self.received[-1].high

    def unplug(self) -> None:
        self.is_driven = False
        super().unplug()

    async def close(self) -> None:
        self.is_driven = False
        await super().close()


class FakeBoard(FakePort):
    """A relay board; `coils` is how they stand, and it answers for each."""

    def __init__(self, name: str, clock: SimulatedClock) -> None:
        super().__init__(name, clock)
        self.coils: dict[int, bool] = {}
        self.answer = self._answers

    def misfit(self, message: Message) -> str:
        if not isinstance(message, Coil):
            return f"a relay board cannot be sent {message}"
        return super().misfit(message)

    def _answers(self, message: Message) -> list[Message]:
        assert isinstance(message, Coil)
        numbers = range(message.number, message.number + message.count)
        if message.on is not None:
            self.coils |= dict.fromkeys(numbers, message.on)
            return []
        stands = {self.coils.get(number, False) for number in numbers}
        return [replace(message, on=on) for on in stands] if len(stands) == 1 else []


class FakePedal(FakePort):
    """A line in, driven by hand."""

    def misfit(self, message: Message) -> str:
        return f"an input cannot send {message}"

    def drive_high(self) -> None:
        """Step on it."""
        self.says(Contact(self.name, high=True))

    def drive_low(self) -> None:
        """Step off it."""
        self.says(Contact(self.name, high=False))
