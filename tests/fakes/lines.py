"""A relay and a pedal that are only fakes."""

from bridge.core.wire import Contact, Message
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
