"""Steps by hand in a crossing: safe whenever they are done, and if they never are.

Why: a person forgets a step, does half of it, does it before it is asked for, or says
that it is done when it is not. So a step by hand may protect nobody. From the press to
the end, every never-rule is judged as if each control of such a step had its old value
and its new one at once. Where that breaks a rule there is no crossing, and the refusal
says which rule forbids that the step is forgotten, and which that it is done too early.

Order then matters for keep-rules only. What a message can do goes first, so that the
person finds everything else done; if a keep-rule needs the hand earlier, it goes there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bridge.core.belief import Belief, Setting, settled, widened
from bridge.core.control import NOWHERE, Control, Reach
from bridge.core.guard import Judge
from bridge.core.leg import Leg, Refusal
from bridge.core.reasons import listed
from bridge.core.wire import Value

Verdict = Mapping[str, float]
"""What is broken: rule -> how badly."""

Widths = Mapping[str, frozenset[Value]]
"""Hand control -> all that it may be at any moment of a crossing."""

REASON = "by hand, when all else is done: safe also if it is forgotten"
REASON_ALONE = "by hand: safe also if it is forgotten"


def widths(controls: Mapping[str, Control], belief: Belief, moving: Setting) -> Widths:
    """What each hand control of this crossing may be while it is under way."""
    return {
        name: belief[name] | {value} | ({NOWHERE} if controls[name].gap else set())
        for name, value in moving.items()
        if controls[name].reach is Reach.HAND
    }


@dataclass(frozen=True, slots=True)
class AtAnyMoment:
    """A judge that holds hand controls to be old and new at once, for never-rules.

    Keep-rules are judged as things are: a person who is late keeps nobody waiting but
    themselves.
    """

    judge: Judge
    widths: Widths

    def nevers_broken(self, belief: Belief) -> Verdict:
        """The never-rules, whenever the steps are done."""
        wide = {name: belief[name] | more for name, more in self.widths.items()}
        return self.judge.nevers_broken({**belief, **wide})

    def keeps_broken(self, belief: Belief) -> Verdict:
        """The keep-rules."""
        return self.judge.keeps_broken(belief)


def unsafe_because(
    judge: Judge, controls: Mapping[str, Control], belief: Belief, moving: Setting
) -> Refusal | None:
    """Why these steps by hand may not be asked for, if that is so.

    What is broken now is nobody's mistake yet, and an end that is broken as it is meant
    is refused by others.
    """
    wide = widths(controls, belief, moving)
    careful = AtAnyMoment(judge, wide)
    now, end = judge.nevers_broken(belief), settled(belief, moving)
    early = _worse(careful.nevers_broken(belief), now)
    late = _worse(careful.nevers_broken(end), now, judge.nevers_broken(end))
    if not early and not late:
        return None
    labels = listed(controls[name].label for name in sorted(wide))
    parts = []
    if late:
        parts.append(f"forgotten it breaks {_quoted(late)}")
    if early:
        parts.append(f"done too early it breaks {_quoted(early)}")
    are = "are" if len(wide) > 1 else "is"
    return Refusal(
        f"{labels} {are} set by hand, and {' and '.join(parts)}",
        tuple(sorted({*late, *early})),
        hands=tuple(sorted(wide)),
    )


def keeps_hold(judge: Judge, start: Belief, there: Belief, last: Leg) -> bool:
    """Whether every keep-rule that holds at both ends holds before and in this leg.

    start: where the whole crossing begins. there: where its last leg does.
    """
    end = settled(there, last.setting)
    free = {*judge.keeps_broken(start), *judge.keeps_broken(end)}
    return judge.keeps_broken(widened(there, last.in_flight)).keys() <= free


def _worse(found: Verdict, *known: Verdict) -> tuple[str, ...]:
    return tuple(
        sorted(
            rule
            for rule, harm in found.items()
            if harm > max(verdict.get(rule, 0.0) for verdict in known)
        )
    )


def _quoted(rules: Sequence[str]) -> str:
    """The first, and how many more: what howls is over every limit there is."""
    more = f" and {len(rules) - 1} more" if len(rules) > 1 else ""
    return f'"{rules[0]}"{more}'
