"""Writes the running service into its journal: where that is, and who looks on."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping
from pathlib import Path

from bridge.core.belief import Belief
from bridge.core.chronicle import Chronicle
from bridge.core.effects import Tell
from bridge.core.entries import Worn
from bridge.core.studio import Studio
from bridge.core.wire import Message
from bridge.wiring.journal import Keeper

NAME = "journal.db"

INSTALLED = Path("/var/lib/treadle")
"""Where the installed service has its state (systemd's StateDirectory=treadle)."""


def journal_path(asked: Path | None) -> Path | None:
    """Where `run` writes: as asked, or in the folder that systemd gives; else nowhere.

    Without either, nobody said that a file may be made.
    """
    if asked is not None:
        return asked
    own = os.environ.get("STATE_DIRECTORY", "").partition(":")[0]
    return Path(own) / NAME if own else None


class Scribe:
    """Sees what the engine does, and keeps it. Nothing here waits."""

    def __init__(
        self,
        studio: Studio,
        rated_life: Mapping[str, int],
        keeper: Keeper,
        wall: Callable[[], float] = time.time,
    ) -> None:
        self._chronicle = Chronicle(studio, rated_life)
        self._keeper, self._wall = keeper, wall

    def adopt(self, studio: Studio, rated_life: Mapping[str, int]) -> None:
        """Go by this studio from now on: its file was read anew."""
        self._chronicle.adopt(studio, rated_life)

    def pressed(self, message: Message, at: float) -> None:
        """A button's message came in."""
        for entry in self._chronicle.pressed(message, at, self._wall()):
            self._keeper.put(entry)

    def asked(self, at: float) -> None:
        """Somebody asked for something."""
        self._chronicle.asked(at)

    def sent(self, message: Message, at: float) -> None:
        """A port took this message."""
        for wear in self._chronicle.sent(message, at, self._wall()):
            self._keeper.put(wear)

    @property
    def worn(self) -> tuple[Worn, ...]:
        """The relays that the journal counts, as far as it has written."""
        return self._keeper.worn

    def told(self, tell: Tell, at: float, belief: Belief) -> None:
        """The machine told this."""
        for record in self._chronicle.told(tell, at, self._wall(), belief):
            self._keeper.put(record)
