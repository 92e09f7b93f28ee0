"""What a crossing may be made of, and the passage that a change of controls needs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from bridge.core.belief import Belief, Setting, settled
from bridge.core.corners import Passage
from bridge.core.guard import Judge
from bridge.core.leg import Helper, Recall
from bridge.core.loudness import Loudness
from bridge.core.studio import Control
from bridge.core.track import Track, track_of
from bridge.core.wire import Message, Midi, Value

MIDI_BYTE_MS = 0.32
"""10 bits at 31 250 baud: MIDI 1.0, electrical specification."""

DATAGRAM_MS = 0.01
"""A small message on a network, or a contact; it only has to be above nothing."""


def wire_ms(message: Message) -> float:
    """How long a wire is busy with a message, roughly: enough to compare plans."""
    if isinstance(message, Midi):
        return len(message.data) * MIDI_BYTE_MS
    return DATAGRAM_MS


@dataclass(frozen=True, slots=True)
class Means:
    """Everything that stays the same while plans for one studio are made.

    cost: how long the wire is busy with a message, in ms.
    """

    judge: Judge
    controls: Mapping[str, Control]
    loudness: Loudness
    helpers: Sequence[Helper] = ()
    recalls: Sequence[Recall] = ()
    cost: Callable[[Message], float] = wire_ms

    def cost_of(self, control: str, value: Value) -> float:
        """How long the wire is busy when a control is set, in ms."""
        return sum(map(self.cost, self.controls[control].messages.get(value, ())))


@dataclass(frozen=True, slots=True)
class Course:
    """Which controls change in a crossing, and what helps out.

    moving: the goal's controls that differ from the belief, and their new values.
    detour: helper control -> its value for a moment.
    at_once: the recall that is needed in one instant, if any.
    """

    moving: Setting
    detour: Setting = field(default_factory=dict)
    at_once: Recall | None = None

    def passage(self, means: Means, belief: Belief) -> Passage:
        """The tracks of this course over a belief.

        A keep-rule binds if it holds at both ends.
        """
        ends = (belief, settled(belief, self.moving))
        free = frozenset(rule for end in ends for rule in means.judge.keeps_broken(end))
        return Passage(means.judge, belief, self._tracks(means, belief), free)

    def _tracks(self, means: Means, belief: Belief) -> list[Track]:
        bundle = () if self.at_once is None else tuple(sorted(self._bundled()))
        rows = [bundle] if bundle else []
        rows += [(name,) for name in sorted(self.moving) if name not in bundle]
        rows += [(name,) for name in sorted(self.detour) if name not in self.moving]
        return [
            track_of(means.controls, means.loudness, row, self._stops(belief, row))
            for row in rows
        ]

    def _bundled(self) -> set[str]:
        return (
            set()
            if self.at_once is None
            else set(self.at_once.values) & set(self.moving)
        )

    def _stops(
        self, belief: Belief, row: tuple[str, ...]
    ) -> list[tuple[frozenset[Value], ...]]:
        here = tuple(belief[name] for name in row)
        end = tuple(
            frozenset({self.moving[name]}) if name in self.moving else belief[name]
            for name in row
        )
        if len(row) == 1 and row[0] in self.detour:
            return [here, (frozenset({self.detour[row[0]]}),), end]
        return [here, end]
