"""What every port does alike: say what it hears, and who came and went."""

from collections import Counter
from collections.abc import Callable
from typing import NoReturn

from bridge.core.wire import Message
from bridge.engine.ports import Arrival, Deliver, Found, Heard, Lost, PortGone


class Presence:
    """One port's voice towards the mailbox, and its count of drops.

    `Found` and `Lost` are said when they change, and `Lost` again when its words do.
    Before `begin` and after `hush` nothing is said; what comes in then is counted.
    The causes of drops are a fixed set of words, never a sender's.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.drops: Counter[str] = Counter()
        self.is_found = False
        self.why = "the port is not open"
        self._deliver: Deliver | None = None
        self._now: Callable[[], float] = float
        self._said: str | None = None

    def begin(self, deliver: Deliver, now: Callable[[], float]) -> None:
        """Speak from now on; `now` gives monotonic seconds."""
        self._deliver, self._now = deliver, now
        self.why = "the port is not found yet"

    def hush(self) -> None:
        """Say nothing from now on."""
        self._deliver, self._said = None, None
        self.is_found, self.why = False, "the port is closed"

    def found(self) -> None:
        """Say that the other end is there."""
        if not self.is_found and self._deliver is not None:
            self.is_found, self._said = True, None
            self._deliver(Found(self.name, self._now()))

    def lost(self, why: str) -> None:
        """Say that the other end is not there, in words for the person."""
        if self._deliver is not None:
            self.is_found, self.why = False, why
            if self._said != why:
                self._said = why
                self._deliver(Lost(self.name, why, self._now()))

    def heard(self, message: Message, at: float | None = None) -> None:
        """Pass on a whole message; `at` is monotonic seconds, now if not given."""
        self.say(Heard(message, self._now() if at is None else at))

    def say(self, arrival: Arrival) -> None:
        """Pass on an arrival of any kind."""
        if self._deliver is None:
            self.drops["heard while closed"] += 1
        else:
            self._deliver(arrival)

    def refuse(self, cause: str, why: str) -> NoReturn:
        """Count a message that was not sent and say so. Raises PortGone."""
        self.drops[cause] += 1
        msg = f"{self.name}: {why}"
        raise PortGone(msg)


class Adapter:
    """The name and the drops of a port; the rest is each adapter's own."""

    def __init__(self, name: str) -> None:
        self._presence = Presence(name)

    def __repr__(self) -> str:
        found = "found" if self._presence.is_found else self._presence.why
        return f"<{type(self).__name__} {self.name}: {found}>"

    @property
    def name(self) -> str:
        """The gear's or button's name in the studio file."""
        return self._presence.name

    @property
    def drops(self) -> dict[str, int]:
        """Dropped messages by cause."""
        return self._presence.drops


def in_words(error: Exception) -> str:
    """Return the system's own words for an error, without its number."""
    return (isinstance(error, OSError) and error.strerror) or str(error)
