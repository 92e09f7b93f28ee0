"""Which cuts protect somebody: what would be broken if one control were opened."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bridge.core.belief import Belief, settled
from bridge.core.control import Control, Kind
from bridge.core.cures import value_words
from bridge.core.judge import HouseJudge
from bridge.core.rules import howl, own_voice, sudden_level
from bridge.core.rules.breach import Breach
from bridge.core.wire import Value


@dataclass(frozen=True, slots=True)
class Protection:
    """A control that stands where it must not be moved from, and for whose sake.

    opened: the value that would break a rule. words: one sentence for the person.
    """

    control: str
    opened: Value
    people: tuple[str, ...]
    words: str


def protecting(judge: HouseJudge, belief: Belief) -> tuple[Protection, ...]:
    """Every control of which one other value alone would break a never-rule.

    Each is tried by itself and judged: nothing is guessed from names.
    """
    present = frozenset(judge.nevers_broken(belief))
    return tuple(
        Protection(name, value, first.people, _words(control, belief, first))
        for name, control in judge.studio.controls.items()
        for value, first in _harmful(judge, belief, control, present)
    )


def _harmful(
    judge: HouseJudge, belief: Belief, control: Control, present: frozenset[str]
) -> Iterator[tuple[Value, Breach]]:
    """The first other value that breaks something new; levels are not cuts."""
    if control.kind is Kind.LEVEL or len(belief[control.name]) != 1:
        return
    for value in control.values:
        if value in belief[control.name]:
            continue
        trial = settled(belief, {control.name: value})
        if not frozenset(judge.nevers_broken(trial)) - present:
            continue
        new = [b for b in judge.never_breaches(trial) if b.key not in present]
        if new:
            yield value, new[0]
            return


def _words(control: Control, belief: Belief, breach: Breach) -> str:
    (value,) = belief[control.name]
    return f"{control.label} {value_words(value)}: {_because(breach)}"


def _because(breach: Breach) -> str:
    who = breach.listener.name if breach.listener is not None else ""
    if breach.sentence is not None:
        return f'the file says "{breach.sentence.text}"'
    if breach.rule == own_voice.RULE:
        return f"else {who} would hear their own voice come back late"
    if breach.rule == howl.RULE:
        return "else a loop would come too near to howling"
    if breach.rule == sudden_level.RULE:
        return f"else {who} would hear it too loud"
    return f"else {breach.message}"
