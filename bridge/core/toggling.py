"""Gear that has one message to turn a control over, whatever it was before.

Such a message is relative: lost, the control is where it was; doubled, it is there
again. So it is sent only from a value that is surely known; while a copy of it may
arrive, either value may be in force; then the gear is asked, and it is sent again only
if the gear says that nothing has changed.

Gear that cannot be asked is believed after its settle time. From then on a message
that was lost, or a button that somebody has pressed on the gear, leaves us wrong about
every message that follows, so after each start a person says how it stands.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from bridge.core.belief import Belief
from bridge.core.control import Control, Kind, Reach
from bridge.core.finding import Finding, Severity
from bridge.core.leg import Change, Refusal
from bridge.core.wire import Value

RULE = "toggle-unknown"


def can_be_sent(control: Control, values: frozenset[Value]) -> bool:
    """Whether its message does what is meant if the control may have these values."""
    return not control.toggles or len(values) == 1


def is_ours(control: Control, values: frozenset[Value]) -> bool:
    """Whether a message of ours can set it if it may have these values."""
    return control.reach is Reach.REMOTE and can_be_sent(control, values)


def is_told_by_people(control: Control) -> bool:
    """Whether only a person can say how a control stands that a message turns over."""
    return control.toggles and not control.ask


def is_told_only(control: Control) -> bool:
    """Whether only a person can say how it stands: set by hand, or turned blindly."""
    return control.reach is Reach.HAND or is_told_by_people(control)


def is_untold(control: Control, values: frozenset[Value]) -> bool:
    """Whether only a person can say which of these values it has, and nobody has."""
    return is_told_only(control) and len(values) > 1


def with_toggles_known(
    controls: Mapping[str, Control], belief: Belief
) -> tuple[Belief, ...]:
    """The belief once toggles have been asked: all at one of their values, or other.

    The two stand for all that they may be; no crossing begins before they are known.
    """
    names = [name for name, control in controls.items() if control.toggles]
    if not names:
        return (belief,)
    return tuple(
        {**belief, **{n: frozenset({controls[n].values[end]}) for n in names}}
        for end in (0, -1)
    )


def blindly_flipped(belief: Belief, changes: Iterable[Change]) -> tuple[str, ...]:
    """What would be turned over although it is not surely where it is to leave from."""
    return tuple(
        f"{RULE}: {change.control}"
        for change in changes
        if change.flips and belief[change.control] != change.before
    )


def blind_refused(
    controls: Mapping[str, Control], belief: Belief, names: Iterable[str]
) -> Refusal | None:
    """Why these cannot be set now, if some are turned over and not known."""
    blind = sorted(n for n in names if not can_be_sent(controls[n], belief[n]))
    if not blind:
        return None
    labels = tuple(controls[name].label for name in blind)
    several = len(labels) > 1
    words = (
        f"{', '.join(labels)}: {'their' if several else 'its'} message turns "
        f"{'each' if several else 'it'} over, and nobody knows how "
        f"{'they stand' if several else 'it stands'}"
    )
    return Refusal(words, must_be_known=labels)


def blind_advice(controls: Mapping[str, Control]) -> Iterator[Finding]:
    """Advice for gear with controls that are turned over and cannot be asked."""
    blind: dict[str, list[Control]] = {}
    for control in controls.values():
        if is_told_by_people(control):
            blind.setdefault(control.gear, []).append(control)
    for gear, theirs in blind.items():
        first, several = theirs[0], len(theirs) > 1
        on_off = first.kind is Kind.SWITCH
        words = "on or off" if on_off else " or ".join(map(str, first.values))
        more = f" and {len(theirs) - 1} more" if several else ""
        yield Finding(
            rule=RULE,
            message=f"{gear} can only turn over {first.label}{more}, and cannot be "
            f"asked how {'they stand' if several else 'it stands'}",
            place=first.place,
            severity=Severity.ADVICE,
            note="after a start nobody knows, and no scene that sets it can be had "
            "until somebody says; a message that is lost or comes twice, or a hand on "
            "the gear, is not noticed",
            cure=f'say it on the panel, or by treadle done STUDIO "{first.label}" and '
            f"{words}; or write by hand: instead of toggle: in the profile, and set "
            "it once",
        )
