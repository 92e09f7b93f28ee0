"""Recalls under way: what may be while several controls change in one instant.

Where gear surely applies a recall so, mixtures of old and new never are; what is lost
or late is lost or late as one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bridge.core.belief import Belief
from bridge.core.control import Control
from bridge.core.recall import Recall
from bridge.core.wire import Value


def comes_at_once(recall: Recall, controls: Mapping[str, Control]) -> bool:
    """Whether no mixture of old and new is ever heard of this recall.

    A selector with a gap or an overlap takes its time, whatever its gear does.
    """
    return recall.atomic and not any(
        controls[name].gap or controls[name].overlap for name in recall.values
    )


@dataclass(frozen=True, slots=True)
class Instant:
    """A recall under way in gear that applies it in one instant.

    old, new: for each control that it changes, what may be so before and after.
    """

    old: Belief
    new: Belief

    def split(self, belief: Belief) -> tuple[Belief, ...]:
        """The belief as what it may be: all as before, or all as after."""
        halves = ({n: belief[n] & half[n] for n in half} for half in self._halves)
        return tuple({**belief, **half} for half in halves if all(half.values())) or (
            belief,
        )

    def widened(self, name: str, values: Iterable[Value]) -> Instant:
        """The same when one of its controls may also be something else."""
        more = frozenset(values)
        old, new = ({**half, name: half[name] | more} for half in self._halves)
        return Instant(old, new)

    def is_over(self, belief: Belief) -> bool:
        """Whether it tells nothing more: all is known, or it was otherwise."""
        if all(len(belief[name]) == 1 for name in self.old):
            return True
        return not any(all(belief[n] & half[n] for n in half) for half in self._halves)

    @property
    def _halves(self) -> tuple[Belief, Belief]:
        return self.old, self.new


def possible(belief: Belief, instants: Iterable[Instant]) -> tuple[Belief, ...]:
    """The beliefs of which surely one is true."""
    found: tuple[Belief, ...] = (belief,)
    for instant in instants:
        found = tuple(half for one in found for half in instant.split(one))
    return found
