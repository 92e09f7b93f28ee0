"""The never-rules as they are, and as they would be if the service died this moment.

When the service dies or is ended, every contact is let go and its relay falls to rest,
wherever a crossing has come to by then. Both ends of a crossing are proved for that
(rule no-power), but what lies between is neither of them. So planner and guard judge
each belief as it is and as it falls. Falling keeps the order of beliefs (a larger set
stays larger), so all that is proved of a never-rule holds for this one too.

Not in it: all power gone just inside a crossing. Then gear that wakes up otherwise than
it was may undo a helper, until the service is back and mends what it finds.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.core.belief import Belief, at_rest, known
from bridge.core.control import Control
from bridge.core.guard import Judge


class Falling:
    """A judge, with every contact held or let go."""

    def __init__(
        self,
        judge: Judge,
        controls: Mapping[str, Control],
        of_falls: Judge | None = None,
        is_so_anyway: frozenset[str] = frozenset(),
    ) -> None:
        """Judge beliefs of these controls.

        of_falls: who judges a fall, if another: a fall is no step of a crossing, so no
        burst of it is measured by its two ends.
        is_so_anyway: rules that a fall may break, since they are so in the end.
        """
        self._judge = judge
        self._of_falls = of_falls or judge
        self._anyway = is_so_anyway
        self._rest = known(at_rest(controls))

    def nevers_broken(self, belief: Belief) -> Mapping[str, float]:
        """Never-rule key -> harm, the worse of as it is and as it falls."""
        found = dict(self._judge.nevers_broken(belief))
        if all(belief[name] == values for name, values in self._rest.items()):
            return found
        for rule, harm in self.fallen(belief).items():
            if rule not in self._anyway:
                found[rule] = max(harm, found.get(rule, 0.0))
        return found

    def fallen(self, belief: Belief) -> Mapping[str, float]:
        """What is broken when every relay has fallen."""
        return self._of_falls.nevers_broken({**belief, **self._rest})

    def keeps_broken(self, belief: Belief) -> Mapping[str, float]:
        """Keep-rules are for a service that lives."""
        return self._judge.keeps_broken(belief)
