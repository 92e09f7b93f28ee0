"""Rules about voltage: nominal levels, headroom, and loads that are too heavy."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bridge.core.finding import Finding, Severity
from bridge.core.jacks import (
    CABLE,
    Cable,
    Jack,
    Level,
    Patch,
    Reach,
    at_once,
    drivers,
    loads,
    parallel_ohm,
)
from bridge.core.levels import BRIDGING_RATIO, loading_gain_db

LEVEL_STEP_DB: Final = 6.0
"""Nominal levels further apart are said; a trim hides less (common practice)."""

DIGITAL_STEP_DB: Final = 0.5
"""Digital alignments further apart are said: nothing but a setting causes them."""

PERMITTED_MAXIMUM_DB: Final = 9.0
"""Over alignment level, ITU-R BS.645-2."""


def levels_differ(patch: Patch) -> Iterator[Finding]:
    """Nominal levels that are far apart, or of different sorts."""
    for cable in patch.cables:
        source = patch.jacks[cable.source]
        if patch.is_passive(source):
            continue
        for reach in loads(patch, source):
            if reach.cables[0] is not cable:
                continue
            found = _gap(source, reach, cable)
            if found is not None:
                yield found


def _gap(source: Jack, reach: Reach, cable: Cable) -> Finding | None:
    target = reach.jack
    if source.level is target.level:
        return _step(source, reach, cable)
    sorts = (source.level, target.level)
    if sorts == (Level.MIC, Level.LINE):
        return _sorts(
            source,
            target,
            cable,
            "far too soft: a microphone needs a microphone input",
            "use a microphone input, or a preamplifier",
        )
    if sorts in ((Level.LINE, Level.MIC), (Level.HEADPHONES, Level.MIC)):
        return _sorts(
            source,
            target,
            cable,
            "far too loud: it overloads a microphone input",
            "use a line input, or a pad of about 40 dB (phantom power off)",
        )
    if sorts == (Level.HEADPHONES, Level.LINE):
        return _sorts(
            source,
            target,
            cable,
            "its level is what its knob says",
            "use a line output; else start at zero and turn up until it is lined up",
        )
    return None


def _sorts(source: Jack, target: Jack, cable: Cable, what: str, cure: str) -> Finding:
    return Finding(
        CABLE,
        f"{source.name} gives {_level(source)} level and {target.name} takes "
        f"{_level(target)} level: {what}",
        cable.place,
        Severity.ADVICE,
        cure=cure,
    )


def _level(jack: Jack) -> str:
    word = jack.level.value
    return word if jack.level_words == word else f"{word} ({jack.level_words})"


def _step(source: Jack, reach: Reach, cable: Cable) -> Finding | None:
    target = reach.jack
    if source.nominal_db is None or target.nominal_db is None:
        return None
    step = source.nominal_db - reach.loss_db - target.nominal_db
    digital = source.level is Level.DIGITAL
    most = DIGITAL_STEP_DB if digital else LEVEL_STEP_DB
    if abs(step) <= most:
        return None
    cure = "set the trim of one of the two"
    if digital:
        cure = "set both to one alignment level"
    elif step > 0:
        cure += f", or put a pad of {step:.0f} dB between"
    else:
        cure += f", or put a line amplifier of {-step:.0f} dB between"
    return Finding(
        CABLE,
        f"{source.name} gives {source.level_words} and {target.name} takes "
        f"{target.level_words}: {abs(step):.1f} dB too "
        f"{'loud' if step > 0 else 'soft'}",
        cable.place,
        Severity.ADVICE,
        measured=f"{step:+.1f} dB",
        limit=f"{most:g} dB apart",
        cure=cure,
    )


def headroom_short(patch: Patch) -> Iterator[Finding]:
    """An input that is full before programme has reached its permitted maximum."""
    for cable in patch.cables:
        source = patch.jacks[cable.source]
        if patch.is_passive(source) or source.nominal_db is None:
            continue
        for reach in loads(patch, source):
            most = reach.jack.most_db
            if reach.cables[0] is not cable or most is None:
                continue
            room = most - (source.nominal_db - reach.loss_db)
            if room < PERMITTED_MAXIMUM_DB:
                yield Finding(
                    CABLE,
                    f"{reach.jack.name} is full {room:.1f} dB over the nominal level "
                    f"of {source.name}",
                    cable.place,
                    Severity.ADVICE,
                    measured=f"{room:.1f} dB",
                    limit=f"at least {PERMITTED_MAXIMUM_DB:g} dB",
                    cure="turn the output down, or put a pad between",
                )


def loaded_down(patch: Patch) -> Iterator[Finding]:
    """All inputs on one output together are too heavy a load."""
    for cable in patch.cables:
        source = patch.jacks[cable.source]
        own = source.impedance_ohm
        if source.level in (Level.HEADPHONES, Level.SPEAKER, Level.DIGITAL):
            continue
        if own is None or patch.is_passive(source):
            continue
        mine = [
            reach
            for reach in loads(patch, source)
            if reach.cables[0] is cable and reach.jack.level is not Level.HEADPHONES
        ]
        heaviest = min(
            (
                (
                    parallel_ohm(r.jack.impedance_ohm or float("inf") for r in group),
                    tuple(r.jack.name for r in group),
                )
                for group in at_once(mine)
            ),
            default=(float("inf"), ()),
        )
        load, names = heaviest
        if load < BRIDGING_RATIO * own:
            loss = loading_gain_db(own, load)
            yield Finding(
                CABLE,
                f"{' and '.join(names)} load {source.name} down by {-loss:.1f} dB",
                cable.place,
                Severity.ADVICE,
                measured=f"{load:.0f} ohm on {own:g} ohm, {load / own:.1f} to 1",
                limit=f"at least {BRIDGING_RATIO:g} to 1 "
                f"({loading_gain_db(1.0, BRIDGING_RATIO):.2f} dB)",
                cure="use an input of higher impedance, or a distribution amplifier",
            )


def headphones_on_line(patch: Patch) -> Iterator[Finding]:
    """Headphones plugged, perhaps through a relay, into a line output."""
    for cable in patch.cables:
        source, target = patch.ends(cable)
        if target.level is not Level.HEADPHONES or patch.is_passive(target):
            continue
        if source.level is Level.LINE or patch.is_passive(source):
            for reach in _drivers_by(patch, target, cable):
                yield Finding(
                    CABLE,
                    f"{target.name} are headphones and {reach.name} is a line output",
                    cable.place,
                    Severity.ADVICE,
                    cure="put a headphone amplifier before the headphones",
                )


def _drivers_by(patch: Patch, target: Jack, cable: Cable) -> Iterator[Jack]:
    for reach in drivers(patch, target):
        if reach.cables[0] is cable and reach.jack.level is Level.LINE:
            yield reach.jack
