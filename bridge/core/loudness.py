"""Which of two values of a control lets more through: what is a cut, what an open.

A switch that is on need not be the louder one (a mute, a dim), and a selector lets
one thing through and stops another. So nothing is read off a control's kind: the
gates of the graph say it. Value a is not louder than b if no gate of the control
lets more through at a than at b.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum

from bridge.core.control import NOWHERE
from bridge.core.graph import Graph
from bridge.core.wire import Value

Table = tuple[tuple[Value, float], ...] | None


class Direction(Enum):
    """What setting a control does to the sound, wherever it goes."""

    CUT = "cut"  # nothing gets louder
    OPEN = "open"  # nothing gets quieter
    MOVE = "move"  # something gets louder and something quieter


@dataclass(frozen=True, slots=True)
class Loudness:
    """The gates of every control that has any (see `studio.Gate.table`)."""

    gates: Mapping[str, tuple[Table, ...]]

    def not_louder(self, control: str, value: Value, than: Value) -> bool:
        """Whether no gate lets more through at `value` than at `than`."""
        return all(
            _factor(table, value) <= _factor(table, than)
            for table in self.gates.get(control, ())
        )

    def direction(
        self, control: str, before: Iterable[Value], value: Value
    ) -> Direction:
        """What setting `value` does when any of `before` may be in force.

        A control without a gate counts as a cut: it may go at any time.
        """
        olds = tuple(before)
        if all(self.not_louder(control, value, old) for old in olds):
            return Direction.CUT
        if all(self.not_louder(control, old, value) for old in olds):
            return Direction.OPEN
        return Direction.MOVE

    def quietest(self, control: str, values: Iterable[Value]) -> Value | None:
        """The first value that is not louder than any other, or None."""
        every = tuple(values)
        for value in every:
            if all(self.not_louder(control, value, other) for other in every):
                return value
        return None


def _factor(table: Table, value: Value) -> float:
    """A number that rises with what the gate lets through: an amplitude, or dB."""
    if table is not None:
        return dict(table).get(value, 0.0)
    return float("-inf") if value == NOWHERE else float(value)


def loudness_of(graph: Graph) -> Loudness:
    """Collect the gates of the graph, each different one once."""
    gates: dict[str, list[Table]] = {}
    for edge in graph.edges:
        for gate in edge.gates:
            tables = gates.setdefault(gate.control, [])
            if gate.table not in tables:
                tables.append(gate.table)
    return Loudness({control: tuple(tables) for control, tables in gates.items()})
