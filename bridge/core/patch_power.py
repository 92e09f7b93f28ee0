"""Rules about power: phantom power, speaker level, and headphones as a load."""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core.finding import Finding, Severity
from bridge.core.jacks import (
    CABLE,
    Jack,
    Level,
    Patch,
    Phantom,
    Reach,
    at_once,
    drivers,
    loads,
    parallel_ohm,
)

GIVES = (Phantom.SWITCHED, Phantom.ALWAYS)


def speaker_level(patch: Patch) -> Iterator[Finding]:
    """A power amplifier's output in any other input, or passive speakers without."""
    for cable in patch.cables:
        source, target = patch.ends(cable)
        if source.level is target.level:
            continue
        if source.level is Level.SPEAKER:
            yield Finding(
                CABLE,
                f"{source.name} gives speaker level and {target.name} does not bear it",
                cable.place,
                cure="take the signal from before the power amplifier",
            )
        elif target.level is Level.SPEAKER:
            yield Finding(
                CABLE,
                f"{target.name} are passive speakers and {source.name} gives "
                f"{source.level.value} level: next to nothing is heard",
                cable.place,
                note="passive speakers are moved by watts",
                cure="put a power amplifier between, or use active speakers",
            )


def phantom_onto_output(patch: Patch) -> Iterator[Finding]:
    """Phantom power onto something that is harmed by it."""
    for input_ in patch.jacks.values():
        if input_.phantom not in GIVES:
            continue
        for reach in drivers(patch, input_):
            if reach.jack.phantom is not Phantom.HARMED or not _has_pins(reach, patch):
                continue
            always = input_.phantom is Phantom.ALWAYS
            can = "gives" if always else "can give"
            yield Finding(
                CABLE,
                f"{input_.name} {can} phantom power, and {reach.jack.name} is not made "
                "for it",
                reach.cables[0].place,
                Severity.ERROR if always else Severity.ADVICE,
                cure="use a line input, or put an isolating transformer between"
                if always
                else "keep phantom power off at this input, and label the switch; "
                "or use a line input",
            )


def _has_pins(reach: Reach, patch: Patch) -> bool:
    """Whether an XLR plug is on the way: others do not touch the phantom contacts.

    A combo socket carries phantom power on its XLR contacts only (common practice).
    """
    near = patch.jacks[reach.cables[0].target]
    source = reach.jack
    if near.connector == "XLR":
        return True
    return near.connector == "combo" and "XLR" in (source.connector, source.plug)


def phantom_missing(patch: Patch) -> Iterator[Finding]:
    """A microphone that needs phantom power at an input that gives none."""
    for source in patch.jacks.values():
        if source.phantom is not Phantom.NEEDS:
            continue
        for reach in loads(patch, source):
            if reach.jack.phantom not in GIVES:
                yield Finding(
                    CABLE,
                    f"{source.name} needs phantom power and {reach.jack.name} gives "
                    "none",
                    reach.cables[0].place,
                    cure="use an input with phantom power, or a feeding box",
                )


def headphones_too_many(patch: Patch) -> Iterator[Finding]:
    """More headphones on one output than it can drive, as far as the figures say."""
    for source in patch.jacks.values():
        if source.level is not Level.HEADPHONES or not source.is_output:
            continue
        if patch.is_passive(source):
            continue
        worn = [r for r in loads(patch, source) if r.jack.level is Level.HEADPHONES]
        for group in at_once(worn):
            found = _too_many(source, group)
            if found is not None:
                yield found
                break


def _too_many(source: Jack, group: tuple[Reach, ...]) -> Finding | None:
    ohms = [r.jack.impedance_ohm for r in group if r.jack.impedance_ohm is not None]
    place = group[0].cables[0].place if group else None
    names = " and ".join(r.jack.name for r in group)
    least = source.least_load_ohm
    if least is None or len(ohms) < len(group):
        if len(group) < 2:
            return None
        return Finding(
            CABLE,
            f"{len(group)} pairs of headphones hang on {source.name}: {names}",
            place,
            Severity.ADVICE,
            note="whether it can drive them is in its manual: give impedance: to the "
            "headphones and least load: to the output",
            cure="give each pair an output of its own",
        )
    load = parallel_ohm(ohms)
    if load >= least:
        return None
    return Finding(
        CABLE,
        f"{names} are too heavy a load for {source.name}",
        place,
        measured=f"{load:.0f} ohm",
        limit=f"at least {least:g} ohm",
        cure="give each pair an output of its own, or use headphones of higher "
        "impedance",
    )


def changeover_after_headphones(patch: Patch) -> Iterator[Finding]:
    """A passive changeover behind a headphone output."""
    for cable in patch.cables:
        source, target = patch.ends(cable)
        box = patch.box_of(target)
        if source.level is not Level.HEADPHONES or not source.is_output:
            continue
        if box.passive and box.kind == "changeover" and not patch.is_passive(source):
            yield Finding(
                CABLE,
                f"{box.name} is a passive changeover behind the headphone output "
                f"{source.name}",
                cable.place,
                Severity.ADVICE,
                cure=f"feed {box.name} from a line output, and put a headphone "
                "amplifier behind it",
            )
