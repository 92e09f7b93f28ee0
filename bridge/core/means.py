"""What a crossing may be made of, and the passage that a change of controls needs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from bridge.core.belief import Belief, Setting, settled
from bridge.core.control import Control
from bridge.core.corners import Passage
from bridge.core.guard import Judge
from bridge.core.leg import Helper
from bridge.core.loudness import Loudness
from bridge.core.recall import Recall
from bridge.core.track import track_of
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
class Bundle:
    """Controls that a recall changes in one instant; what else it sets went before."""

    recall: Recall
    names: frozenset[str]


@dataclass(frozen=True, slots=True)
class Course:
    """Which controls change in a crossing, and what helps out.

    moving: the goal's controls that differ from the belief, and their new values.
    detour: helper control -> its value for a moment.
    at_once: the recalls that are needed in one instant; no two change one control.
    """

    moving: Setting
    detour: Setting = field(default_factory=dict)
    at_once: tuple[Bundle, ...] = ()

    def passage(self, means: Means, belief: Belief) -> Passage:
        """The tracks of this course over a belief.

        A keep-rule binds if it holds at both ends.
        """
        ends = (belief, settled(belief, self.moving))
        free = frozenset(rule for end in ends for rule in means.judge.keeps_broken(end))
        rows = self._rows()
        tracks = [
            track_of(means.controls, means.loudness, row, self._stops(belief, row))
            for row in rows
        ]
        return Passage(means.judge, belief, tracks, free, self._waits(rows))

    def bundle_of(self, name: str) -> Bundle | None:
        """The bundle that a control is in, if any."""
        return next((one for one in self.at_once if name in one.names), None)

    def _rows(self) -> list[tuple[str, ...]]:
        """The controls of each track."""
        rows = [tuple(sorted(bundle.names)) for bundle in self.at_once]
        rows += [(n,) for n in sorted(self.moving) if self.bundle_of(n) is None]
        rows += [(name,) for name in sorted(self.detour) if name not in self.moving]
        return rows

    def _waits(self, rows: list[tuple[str, ...]]) -> dict[int, frozenset[int]]:
        """What a recall sets and does not change must be so before it comes."""
        waits = {}
        for track, bundle in enumerate(self.at_once):
            before = (set(bundle.recall.values) & set(self.moving)) - bundle.names
            others = frozenset(i for i, row in enumerate(rows) if before & set(row))
            if others:
                waits[track] = others
        return waits

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
