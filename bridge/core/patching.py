"""What is wrong with the cables: the table of all rules about jacks and plugs.

The rules are facts of the trade. Where one has a published source it is named; the
others say "common practice, no source". What harms gear or cannot work at all is an
error; what works badly is advice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from bridge.core import patch_levels, patch_pan, patch_power, patch_shape
from bridge.core.finding import Finding, Severity, in_file_order
from bridge.core.jacks import CABLE, Jack, Level, Patch, Wiring
from bridge.core.plugs import DIGITAL_ENDS, lead

PRACTICE = "common practice, no source"

LONGEST_UNBALANCED_M = 5.0
"""Beyond this an unbalanced cable is likely to pick up hum (common practice)."""


@dataclass(frozen=True, slots=True)
class PatchRule:
    """One rule about cables: its id, why it is there, where that is printed."""

    id: str
    why: str
    source: str
    find: Callable[[Patch], Iterator[Finding]]


def patch_findings(patch: Patch) -> tuple[Finding, ...]:
    """Everything that is wrong or doubtful with the cables, in file order."""
    return in_file_order(
        replace(finding, rule=rule.id, note=finding.note or rule.why)
        for rule in RULES
        for finding in rule.find(patch)
    )


# Plugs and lanes


def no_cable_fits(patch: Patch) -> Iterator[Finding]:
    """Digital and analogue jacks on one cable, or two digital forms."""
    for cable in patch.cables:
        source, target = patch.ends(cable)
        if lead(source, target, cable) is not None:
            continue
        digital = [jack.name for jack in (source, target) if _is_digital(jack)]
        both = len(digital) == 2
        yield Finding(
            CABLE,
            f"no cable leads from {source.name} ({source.end}) "
            f"to {target.name} ({target.end})",
            cable.place,
            note="the two carry digital sound in different forms"
            if both
            else f"{digital[0]} carries digital sound and the other does not",
            cure="use two jacks of one kind, or put a converter between",
        )


def stereo_on_balanced(patch: Patch) -> Iterator[Finding]:
    """A stereo plug in a balanced mono jack: left minus right, no centre."""
    for cable in patch.cables:
        source, target = patch.ends(cable)
        lanes = (cable.source_lane, cable.target_lane)
        if lanes != (None, None):
            continue
        meet = (source.wiring, target.wiring)
        if meet == (Wiring.STEREO, Wiring.BALANCED) and target.lanes == 1:
            yield Finding(
                CABLE,
                f"{source.name} is stereo on one plug and {target.name} is "
                "balanced mono: it hears left minus right, and the centre is gone",
                cable.place,
                cure="use a split cable into two strips, left and right",
            )
        elif meet == (Wiring.BALANCED, Wiring.STEREO) and source.lanes == 1:
            yield Finding(
                CABLE,
                f"{source.name} is balanced mono and {target.name} is stereo on "
                "one plug: one side gets the sound upside down",
                cable.place,
                Severity.ADVICE,
                cure="use a cable that puts the tip on both sides, "
                "and leaves the ring of the balanced end open",
            )


def lane_lost(patch: Patch) -> Iterator[Finding]:
    """One lane of a stereo jack has a cable and the other has none."""
    used: dict[str, set[int]] = {}
    places = {}
    for cable in patch.cables:
        for name, lane in (
            (cable.source, cable.source_lane),
            (cable.target, cable.target_lane),
        ):
            if patch.jacks[name].lanes == 2:
                used.setdefault(name, set()).update((0, 1) if lane is None else (lane,))
                places[name] = cable.place
    for name, lanes in used.items():
        if len(lanes) == 1:
            missing = "R" if 0 in lanes else "L"
            lost = "lost" if patch.jacks[name].is_output else "silent"
            yield Finding(
                CABLE,
                f"{name} has a cable on one lane only: {missing} is {lost}",
                places[name],
                Severity.ADVICE,
                cure=f"lay a cable for {name} {missing} too, or use a mono jack",
            )


def lane_swapped(patch: Patch) -> Iterator[Finding]:
    """Left into right."""
    for cable in patch.cables:
        lanes = (cable.source_lane, cable.target_lane)
        if lanes in ((0, 1), (1, 0)):
            near, far = ("L", "R") if lanes == (0, 1) else ("R", "L")
            yield Finding(
                CABLE,
                f"{cable.source} {near} goes into {cable.target} {far}: "
                "left and right are swapped",
                cable.place,
                Severity.ADVICE,
                cure="change the two plugs over",
            )


def long_unbalanced(patch: Patch) -> Iterator[Finding]:
    """A long cable that has no defence against hum."""
    for cable in patch.cables:
        found = lead(*patch.ends(cable), cable)
        if found is None or cable.length_m is None:
            continue
        open_to_hum = found.wiring in (Wiring.UNBALANCED, Wiring.STEREO)
        source = patch.jacks[cable.source]
        if source.level is Level.HEADPHONES or not open_to_hum:
            continue
        if cable.length_m > LONGEST_UNBALANCED_M:
            yield Finding(
                CABLE,
                f"{cable.length_m:g} m of unbalanced cable from {cable.source} "
                f"to {cable.target}",
                cable.place,
                Severity.ADVICE,
                measured=f"{cable.length_m:g} m",
                limit=f"{LONGEST_UNBALANCED_M:g} m",
                cure="use balanced jacks, a shorter cable, or an isolating box",
            )


def _is_digital(jack: Jack) -> bool:
    return jack.level is Level.DIGITAL or jack.end in DIGITAL_ENDS


RULES: tuple[PatchRule, ...] = (
    PatchRule(
        "connector-misfit",
        "plugs that fit nowhere make a wasted evening",
        PRACTICE,
        no_cable_fits,
    ),
    PatchRule(
        "balanced-stereo",
        "a balanced input subtracts ring from tip; on a stereo plug the ring is the "
        "right side",
        PRACTICE,
        stereo_on_balanced,
    ),
    PatchRule(
        "outputs-joined",
        "each output works against the other: both distort, and may be harmed",
        PRACTICE,
        patch_shape.outputs_joined,
    ),
    PatchRule(
        "lane-lost",
        "half of a stereo sound is missing, and what is panned there with it",
        PRACTICE,
        lane_lost,
    ),
    PatchRule(
        "lane-swapped",
        "left and right change places for everybody behind this cable",
        PRACTICE,
        lane_swapped,
    ),
    PatchRule(
        "lane-panned",
        "what is panned to the wrong side is heard there by everybody behind the desk",
        PRACTICE,
        patch_pan.lane_panned,
    ),
    PatchRule(
        "levels-differ",
        "the model takes every cable as lined up to nominal level",
        "reference levels: ITU-R BS.645-2; EBU R 68 and SMPTE RP 155 (digital)",
        patch_levels.levels_differ,
    ),
    PatchRule(
        "headroom-short",
        "programme may peak 9 dB over alignment level",
        "ITU-R BS.645-2, permitted maximum signal",
        patch_levels.headroom_short,
    ),
    PatchRule(
        "loaded-down",
        "a load under ten times the source's impedance costs level and colours sound",
        "bridging loss 20 log(Zin / (Zin + Zout)), ten to one: common audio texts",
        patch_levels.loaded_down,
    ),
    PatchRule(
        "headphones-on-line",
        "a line output is not made to drive headphones: little level, no bass",
        PRACTICE,
        patch_levels.headphones_on_line,
    ),
    PatchRule(
        "speaker-level",
        "what a power amplifier gives is watts: into any other input it does harm",
        PRACTICE,
        patch_power.speaker_level,
    ),
    PatchRule(
        "headphones-too-many",
        "side by side their impedances fall, and the output must give more current",
        "impedances in parallel; the smallest load is the maker's figure",
        patch_power.headphones_too_many,
    ),
    PatchRule(
        "changeover-after-headphone-output",
        "the knob of the headphones then turns the speakers too, and one plug may "
        "short what the relay has let go",
        PRACTICE,
        patch_power.changeover_after_headphones,
    ),
    PatchRule(
        "phantom-onto-output",
        "48 V from a microphone input go back into whatever is plugged in; switch "
        "phantom power off before you move a microphone cable",
        PRACTICE,
        patch_power.phantom_onto_output,
    ),
    PatchRule(
        "phantom-missing",
        "a microphone with electronics in it is silent without phantom power",
        PRACTICE,
        patch_power.phantom_missing,
    ),
    PatchRule(
        "ring-of-cables",
        "what goes round comes back louder: one switch more and it howls",
        PRACTICE,
        patch_shape.rings,
    ),
    PatchRule(
        "long-unbalanced",
        "an unbalanced cable picks up hum from the mains beside it",
        PRACTICE,
        long_unbalanced,
    ),
)
"""Every rule about cables."""
