"""What else there is to say of a leg: recalls, levels in steps, what is turned over."""

from __future__ import annotations

from bridge.core.cures import value_words
from bridge.core.instant import comes_at_once
from bridge.core.leg import Leg, Step
from bridge.core.reasons import listed
from bridge.core.studio import Studio
from bridge.core.units import delay_words


def notes_on(studio: Studio, leg: Leg) -> list[str]:
    """One sentence for each thing that its list of messages does not tell."""
    turned = _care(studio, leg)
    notes = [*_recalled(studio, leg), *_in_steps(studio, leg)]
    return [*notes, turned] if turned else notes


def values_of(studio: Studio, step: Step) -> list[str]:
    """What a step sets, control by control."""
    return [
        f"{studio.controls[change.control].label} {value_words(change.value)}"
        for change in step.changes
    ]


def _recalled(studio: Studio, leg: Leg) -> list[str]:
    """What each recall brings, and whether it can come bit by bit."""
    return [
        f"{step.recall.name} brings {', '.join(values_of(studio, step))}: "
        + (
            "all in one instant, or nothing"
            if comes_at_once(step.recall, studio.controls)
            else "one after the other, in any order"
        )
        for step in leg.steps
        if step.recall is not None
    ]


def _in_steps(studio: Studio, leg: Leg) -> list[str]:
    """How each level that goes in steps goes."""
    controls = studio.controls
    return [
        f"{controls[change.control].label} goes in {len(change.via) + 1} steps of "
        f"{controls[change.control].step_db:g} dB at most, one every "
        f"{delay_words(controls[change.control].step_ms)}; all between is proved"
        for step in leg.steps
        for change in step.carried
        if change.via
    ]


def _care(studio: Studio, leg: Leg) -> str:
    """What is sent only once, and when again."""
    turned = [change for step in leg.steps for change in step.carried if change.flips]
    if not turned:
        return ""
    names = listed(studio.controls[change.control].label for change in turned)
    controls = [studio.controls[change.control] for change in turned]
    one = "its message turns it" if len(turned) == 1 else "their messages turn them"
    if not all(control.ask for control in controls):
        return f"{names}: {one} over; never sent twice, since nothing can be asked"
    wait = 2 * max(control.hold_off_ms for control in controls)
    after = f" after {delay_words(wait)}" if wait else ""
    return f"{names}: {one} over; asked{after}, and sent again only if nothing moved"
