"""What a studio needs of the computer that runs it and does not find, as a value."""

from collections.abc import Container
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Missing:
    """One thing that is not there, before anything is opened.

    ports: the connections of the studio that need it; empty: the service itself does.
    what: what is not there, in words. cure: what brings it.
    """

    ports: tuple[str, ...]
    what: str
    cure: str

    def is_missing(self, absent: Container[str]) -> bool:
        """Whether it is not known to be there since, by the ports that are absent."""
        return not self.ports or any(port in absent for port in self.ports)

    @property
    def words(self) -> str:
        """What is missing, and for whom."""
        return f"{self.what}, for {', '.join(self.ports)}" if self.ports else self.what
