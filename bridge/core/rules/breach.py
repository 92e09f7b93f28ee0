"""What a rule says of one corner: broken, by whom, how badly."""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.demand import Sentence
from bridge.core.graph import Listener, Source
from bridge.core.hearing import Corner, Hearing
from bridge.core.studio import Studio


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule is broken.

    rule: kebab-case id. harm: grows with the harm and with nothing else, in one unit
    for one rule, so that two beliefs can be compared; always above 0.
    measured, limit: in words, with units.
    source, listener: whose sound, at whose ear; None for a loop.
    loop: the nodes of the loop, for howl.
    sentence: the file's own sentence that is broken.
    about: names of gear or people, where source and listener do not say it all.
    """

    rule: str
    harm: float
    message: str
    measured: str
    limit: str
    source: Source | None = None
    listener: Listener | None = None
    loop: tuple[int, ...] = ()
    sentence: Sentence | None = None
    about: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """Tells rule and people apart; the same for the same trouble elsewhere."""
        if self.sentence is not None:
            return f"{self.rule}: {self.sentence.text}"
        if self.about:
            return f"{self.rule}: {', '.join(self.about)}"
        if self.source is not None and self.listener is not None:
            return f"{self.rule}: {self.source.name} to {self.listener.name}"
        return self.rule

    @property
    def people(self) -> tuple[str, ...]:
        """Everybody and everything that is concerned, by name."""
        parties = [p.name for p in (self.listener, self.source) if p is not None]
        return tuple(dict.fromkeys((*parties, *self.about)))


@dataclass(frozen=True, slots=True)
class Scope:
    """What a rule looks at: the studio, its compiled graph, and one corner."""

    studio: Studio
    hearing: Hearing
    corner: Corner
