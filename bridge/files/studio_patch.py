"""The patch: cables from outputs to inputs, one plug in a jack."""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.finding import Place
from bridge.core.jacks import Cable
from bridge.files.amounts import amount
from bridge.files.flows import CABLE_GRAMMAR, read_arrow
from bridge.files.kinds import LENGTH
from bridge.files.lines import split
from bridge.files.profile_model import Jack
from bridge.files.shapes import unknown_name
from bridge.files.studio_draft import Draft, Gear
from bridge.files.studio_gear import lanes
from bridge.files.studio_graph import Lanes
from bridge.files.tree import Text

ENDS = ("microphone", "speakers", "headphones", "player", "recorder")
"""Gear that is of no use without a cable."""

THROUGH = ("headphone amplifier", "changeover")
"""Gear that only passes on what comes in."""

LANES = {"L": 0, "R": 1}


@dataclass(frozen=True, slots=True)
class End:
    """One end of a cable: a jack, or one lane of it."""

    gear: Gear
    jack: Jack
    lane: int | None = None

    @property
    def name(self) -> str:
        """The full name of the jack."""
        return f"{self.gear.name}.{self.jack.name}"


def add_cables(draft: Draft) -> None:
    """Connect what the patch connects."""
    taken: dict[str, Place] = {}
    for line in draft.part.patch:
        ends = read_arrow(line, draft.notes, CABLE_GRAMMAR)
        if ends is None:
            draft.incomplete = True
            continue
        left, (right, length) = ends[0], _length(draft, ends[1])
        source, target = (_end(draft, text) for text in (left, right))
        if source is None or target is None:
            draft.incomplete = True
            continue
        right_way = _right_way(draft, (left, right), source.jack, target.jack)
        free = [
            _free(draft, text, end, taken)
            for text, end in ((left, source), (right, target))
            if right_way
        ]
        if right_way and all(free):
            _cable(draft, source, target, length, line.place)
        else:
            draft.incomplete = True
    _left_out(draft, taken)


def _length(draft: Draft, text: Text) -> tuple[Text, float | None]:
    """Cut `desk.in 1 over 3 m` into the jack and the length of the cable."""
    jack, *rest = split(text, "over")
    if len(rest) != 1:
        return text, None
    return jack, amount(rest[0], LENGTH, draft.notes)


def _left_out(draft: Draft, taken: dict[str, Place]) -> None:
    """Say which gear at the ends of the chain has no cable at all."""
    if draft.incomplete:
        return
    for gear in draft.gear.values():
        jacks = [f"{gear.name}.{jack}" for jack in gear.profile.jacks]
        patched = any(name.startswith(f"{gear.name}.") for name in taken)
        if gear.profile.kind in ENDS and not patched:
            draft.notes.advice(
                "not-patched",
                f"{gear.name}: no cable is patched into it",
                gear.place,
                cure=f"add a cable of {jacks[0]} to patch:" if jacks else "",
            )
        into = [
            f"{gear.name}.{jack.name}"
            for jack in gear.profile.jacks.values()
            if not jack.is_output
        ]
        is_fed = any(name.rpartition("/")[0] in into for name in taken)
        if gear.profile.kind in THROUGH and patched and not is_fed:
            draft.notes.advice(
                "not-patched",
                f"{gear.name}: a cable leads out of it, and none into it",
                gear.place,
                cure=f"add a cable into {' or '.join(into)} to patch:",
            )


def _end(draft: Draft, text: Text) -> End | None:
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
    stereo, _, lane = jack.rpartition(" ")
    if jack not in gear.profile.jacks and lane in LANES:
        whole = gear.profile.jacks.get(stereo)
        if whole is not None and whole.lanes > 1:
            return End(gear, whole, LANES[lane])
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
    return End(gear, gear.profile.jacks[jack])


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


def _free(draft: Draft, text: Text, end: End, taken: dict[str, Place]) -> bool:
    """Return whether nothing is plugged in yet, and take it; notes it if not."""
    every = range(end.jack.lanes) if end.lane is None else (end.lane,)
    names = [f"{end.name}/{lane}" for lane in every]
    first = next((taken[name] for name in names if name in taken), None)
    for name in names:
        taken.setdefault(name, text.place)
    if first is None:
        return True
    draft.notes.error(
        "jack-patched-twice",
        f"{text.value} has a plug in it already",
        text.place,
        note=f"the first cable is in line {first.line}",
        cure="take one of the two cables out; a split cable is gear of its own",
    )
    return False


def _cable(
    draft: Draft, source: End, target: End, length: float | None, place: Place
) -> None:
    draft.graph.connect(_nodes(draft, source), _nodes(draft, target), place=place)
    draft.cables.append(
        Cable(source.name, target.name, source.lane, target.lane, length, place)
    )


def _nodes(draft: Draft, end: End) -> Lanes:
    nodes = lanes(draft, end.gear, end.jack.name)
    return nodes if end.lane is None else (nodes[end.lane],)
