"""A port whose other end is in the test's hand."""

from collections import Counter
from collections.abc import Callable

from bridge.core.wire import Message
from bridge.engine.ports import Arrival, Deliver, Found, Heard, Lost, PortGone
from tests.fakes.clock import SimulatedClock

UNPLUGGED = "the cable is out: put it in"


class FakePort:
    """Keeps what reached the other end in `received`, in order.

    `answer`, if set, is the gear: it gets each message that arrives and returns what it
    says back. `late_by` delays everything said by the gear, in seconds of the clock.
    """

    def __init__(self, name: str, clock: SimulatedClock) -> None:
        self.received: list[Message] = []
        self.answer: Callable[[Message], list[Message]] = lambda _: []
        self.late_by = 0.0
        self._name, self._clock = name, clock
        self._drops: Counter[str] = Counter()
        self._deliver: Deliver | None = None
        self._is_plugged = True
        self._to_lose = 0

    @property
    def name(self) -> str:
        return self._name

    @property
    def drops(self) -> dict[str, int]:
        return self._drops

    async def open(self, deliver: Deliver) -> None:
        self._deliver = deliver
        self._tell_presence()

    def send(self, message: Message) -> None:
        if self._deliver is None or not self._is_plugged:
            self._refuse("sent while lost", UNPLUGGED)
        if why := self.misfit(message):
            self._refuse("misfit", why)
        if self._to_lose:
            self._to_lose -= 1
            return
        self.received.append(message)
        for said in self.answer(message):
            self.says(said)

    async def close(self) -> None:
        self._deliver = None

    def misfit(self, message: Message) -> str:
        """Say why this port cannot carry a message, or nothing."""
        return "" if message.port == self._name else f"{message} is another port's"

    def _refuse(self, cause: str, why: str) -> None:
        self._drops[cause] += 1
        msg = f"{self._name}: {why}"
        raise PortGone(msg)

    # What the test does

    def plug(self) -> None:
        """Put the cable in."""
        if not self._is_plugged:
            self._is_plugged = True
            self._tell_presence()

    def unplug(self) -> None:
        """Pull the cable out."""
        if self._is_plugged:
            self._is_plugged = False
            self._tell_presence()

    def lose_next(self, messages: int = 1) -> None:
        """Let the next messages vanish on the way, with nobody told."""
        self._to_lose += messages

    def says(self, message: Message) -> None:
        """Let the gear, or a hand on it, say something."""
        if self.late_by:
            self._clock.after(self.late_by, lambda: self._arrives(message))
        else:
            self._arrives(message)

    def _arrives(self, message: Message) -> None:
        if self._is_plugged:
            self._tell(Heard(message, self._clock.now()))

    def _tell_presence(self) -> None:
        if self._deliver is None:
            return
        now = self._clock.now()
        lost = Lost(self._name, UNPLUGGED, now)
        self._tell(Found(self._name, now) if self._is_plugged else lost)

    def _tell(self, arrival: Arrival) -> None:
        if self._deliver is None:
            self._drops["heard while closed"] += 1
        else:
            self._deliver(arrival)
