"""The patch: cables from outputs to inputs, one plug in a jack."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.files.flows import CABLE_GRAMMAR, read_arrow
from bridge.files.profile_model import Jack
from bridge.files.shapes import unknown_name
from bridge.files.studio_draft import Cable, Draft, Gear
from bridge.files.studio_gear import lanes
from bridge.files.tree import Text

LEVEL_STEP_DB = 6.0
"""Nominal levels further apart than this are said; a trim hides less (no source)."""


ENDS = ("microphone", "speakers", "headphones", "player", "recorder")
"""Gear that is of no use without a cable."""


def add_cables(draft: Draft) -> None:
    """Connect what the patch connects."""
    taken: dict[str, Place] = {}
    for line in draft.part.patch:
        ends = read_arrow(line, draft.notes, CABLE_GRAMMAR)
        if ends is None:
            draft.incomplete = True
            continue
        source, target = (_end(draft, text) for text in ends)
        if source is None or target is None:
            draft.incomplete = True
            continue
        right_way = _right_way(draft, ends, source[1], target[1])
        free = [_free(draft, text, taken) for text in ends] if right_way else [False]
        if all(free):
            _cable(draft, source, target, line.place)
        else:
            draft.incomplete = True
    _left_out(draft, taken)


def _left_out(draft: Draft, taken: dict[str, Place]) -> None:
    """Say which gear at the ends of the chain has no cable at all."""
    if draft.incomplete:
        return
    for gear in draft.gear.values():
        jacks = [f"{gear.name}.{jack}" for jack in gear.profile.jacks]
        if gear.profile.kind in ENDS and not any(jack in taken for jack in jacks):
            draft.notes.advice(
                "not-patched",
                f"{gear.name}: no cable is patched into it",
                gear.place,
                cure=f"add a cable of {jacks[0]} to patch:" if jacks else "",
            )


def _end(draft: Draft, text: Text) -> tuple[Gear, Jack] | None:
    name, dot, jack = text.value.partition(".")
    broken = {e.name.value for e in draft.part.gear} - set(draft.gear)
    if name in broken:
        return None
    if not dot or name not in draft.gear:
        whose = Text(name, text.part(0, len(name)))
        what = "the gear" if dot else "the jack"
        known = draft.gear if dot else _jacks(draft)
        unknown_name(
            draft.notes,
            "unknown-name",
            what,
            whose.value,
            whose.place,
            known,
            cure="" if dot else "write GEAR.JACK, as in mic.out",
        )
        return None
    gear = draft.gear[name]
    if jack not in gear.profile.jacks:
        place = text.part(len(name) + 1, len(text.value))
        unknown_name(
            draft.notes,
            "unknown-name",
            f"the jack of {name}",
            jack,
            place,
            gear.profile.jacks,
        )
        return None
    return gear, gear.profile.jacks[jack]


def _jacks(draft: Draft) -> list[str]:
    return [f"{g.name}.{jack}" for g in draft.gear.values() for jack in g.profile.jacks]


def _right_way(
    draft: Draft, ends: tuple[Text, Text], source: Jack, target: Jack
) -> bool:
    """Return whether a cable goes from an output to an input; notes it if not."""
    if source.is_output and not target.is_output:
        return True
    left, right = ends
    cure = ""
    if target.is_output and not source.is_output:
        message = "the arrow points the wrong way"
        cure = f"write {right.value} -> {left.value}"
    elif source.is_output:
        message = f"{right.value} is an output, and so is {left.value}"
    else:
        message = f"{left.value} is an input, and so is {right.value}"
    draft.notes.error(
        "wrong-direction",
        message,
        (right if source.is_output else left).place,
        note="a cable goes from an output, on the left, to an input, on the right",
        cure=cure,
    )
    return False


def _free(draft: Draft, text: Text, taken: dict[str, Place]) -> bool:
    if text.value not in taken:
        taken[text.value] = text.place
        return True
    draft.notes.error(
        "jack-patched-twice",
        f"{text.value} has a plug in it already",
        text.place,
        note=f"the first cable is in line {taken[text.value].line}",
        cure="take one of the two cables out; a split cable is gear of its own",
    )
    return False


def _cable(
    draft: Draft, source: tuple[Gear, Jack], target: tuple[Gear, Jack], place: Place
) -> None:
    (from_gear, output), (to_gear, input_) = source, target
    draft.graph.connect(
        lanes(draft, from_gear, output.name),
        lanes(draft, to_gear, input_.name),
        place=place,
    )
    cable = Cable(
        f"{from_gear.name}.{output.name}",
        f"{to_gear.name}.{input_.name}",
        output.connector,
        input_.connector,
        output.level,
        input_.level,
        place,
    )
    draft.cables.append(cable)
    _levels(draft, cable, output, input_)


def _levels(draft: Draft, cable: Cable, output: Jack, input_: Jack) -> None:
    """Say where nominal levels do not fit; the model takes them as lined up."""
    if output.level_dbu is not None and input_.level_dbu is not None:
        step = output.level_dbu - input_.level_dbu
        if abs(step) > LEVEL_STEP_DB:
            draft.notes.advice(
                "levels-differ",
                f"{cable.source} gives {output.level} and {cable.target} takes "
                f"{input_.level}: {abs(step):.1f} dB "
                f"{'too loud' if step > 0 else 'too soft'}",
                cable.place,
                note="the model takes every cable as lined up to nominal level",
                cure="set the trim of one of the two, or put a pad between",
            )
    elif output.level != input_.level and "mic" in (output.level, input_.level):
        draft.notes.advice(
            "levels-differ",
            f"{cable.source} gives {output.level} level and {cable.target} takes "
            f"{input_.level} level",
            cable.place,
            note="a microphone needs a microphone input; line level overloads one",
            cure="use another jack, or a preamplifier",
        )
