"""The flows that a profile writes out: `in -> rest when position is rest`."""

from __future__ import annotations

from bridge.core.control import Kind
from bridge.core.units import amplitude
from bridge.core.wire import Value
from bridge.files.flows import When, read_flow
from bridge.files.profile_making import Making
from bridge.files.profile_model import ControlType, Flow, Gating, Point
from bridge.files.shapes import unknown_name
from bridge.files.tree import Text

LANES = {"L": 0, "R": 1}


def add_flow(making: Making, text: Text) -> None:
    """Read one line of flows: and add it; notes what is wrong."""
    line = read_flow(text, making.notes)
    if line is None:
        return
    source, target = _end(making, line.source), _end(making, line.target)
    gates = [_when(making, when) for when in line.whens]
    gates += [_scaled(making, name) for name in line.through]
    if source is None or target is None or None in gates:
        return
    whole = tuple(gate for gate in gates if gate is not None)
    making.flows.append(
        Flow(source, target, whole, line.gain_db, line.delay_ms, line.place)
    )


def value_words(control: ControlType) -> dict[str, Value]:
    """Return the words for the values of a switch or selector."""
    return {
        "on" if value is True else "off" if value is False else str(value): value
        for value in control.values
        if control.kind is not Kind.LEVEL
    }


def _end(making: Making, text: Text) -> Point | None:
    if text.value in making.points:
        return Point(text.value)
    name, _, lane = text.value.rpartition(" ")
    if lane in LANES and making.points.get(name) == 2:
        return Point(name, LANES[lane])
    if making.broken & {text.value, name}:
        return None
    unknown_name(
        making.notes,
        "unknown-name",
        "the point",
        text.value,
        text.place,
        making.points,
    )
    return None


def _named(making: Making, text: Text) -> ControlType | None:
    if text.value not in making.controls and text.value not in making.broken:
        unknown_name(
            making.notes,
            "unknown-name",
            "the control",
            text.value,
            text.place,
            making.controls,
        )
    return making.controls.get(text.value)


def _when(making: Making, when: When) -> Gating | None:
    control = _named(making, when.control)
    if control is None:
        return None
    words = value_words(control)
    for text in when.values:
        if text.value not in words:
            unknown_name(
                making.notes,
                "unknown-value",
                f"the value of {control.name}",
                text.value,
                text.place,
                words,
            )
            return None
    table = tuple((words[text.value], 1.0) for text in when.values)
    return Gating(control.name, table)


def _scaled(making: Making, text: Text) -> Gating | None:
    control = _named(making, text)
    if control is None:
        return None
    if control.kind is Kind.LEVEL:
        return Gating(control.name, None)
    if not control.gains_db:
        making.notes.error(
            "no-gains",
            f'"{control.name}" is no level, and has no gains to go through',
            text.place,
            cure="give it gains:, or write when ... is ...",
        )
        return None
    gains = control.gains_db.items()
    return Gating(control.name, tuple((v, amplitude(db)) for v, db in gains))
