"""What a studio needs of the computer that runs it and does not find, as a value."""

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

    @property
    def words(self) -> str:
        """What is missing, and for whom."""
        return f"{self.what}, for {', '.join(self.ports)}" if self.ports else self.what
