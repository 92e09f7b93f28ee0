"""One box of the drawing as SVG: its jacks, its rows and rails, pins and cuts."""

from __future__ import annotations

from collections.abc import Iterator
from xml.sax.saxutils import escape

from bridge.faces.flow.heights import Place
from bridge.faces.flow.layout import (
    PAD,
    RAIL,
    clipped,
    is_straight,
    label,
    labels_width,
)
from bridge.faces.flow.model import Box, Jack, Join, Light, Side
from bridge.faces.report import shown


def safe(text: str) -> str:
    """A text from outside, as text of a drawing."""
    return escape(shown(text))


def drawn_box(place: Place) -> Iterator[str]:
    """All of one box."""
    box = place.box
    assert box is not None
    yield (
        f'<g class="gear {box.side.value}" '
        f'transform="translate({place.x:.1f} {place.y:.1f})">'
    )
    yield f"<title>{safe(box.title)}</title>"
    yield (
        f'<rect class="case" width="{place.width:.1f}" height="{place.height:.1f}" '
        f'rx="{13 if box.side is not Side.THROUGH else 3}"/>'
    )
    yield (f'<text class="name" x="{PAD}" y="20">{safe(clipped(box.title))}</text>')
    if box.side is Side.THROUGH:
        yield from _through(place, box)
    yield from _jacks(place, box)
    yield "</g>"


def _jacks(place: Place, box: Box) -> Iterator[str]:
    for jack, x, anchor, at in (
        *((j, 0.0, "start", PAD) for j in box.inputs),
        *((j, place.width, "end", place.width - PAD) for j in box.outputs),
    ):
        y = place.jacks[jack.name]
        words = label(box, jack)
        if words and not (box.is_passage and anchor == "end"):
            yield (
                f'<text class="jack" x="{at:.1f}" y="{y - 5:.1f}" '
                f'text-anchor="{anchor}">{safe(words)}</text>'
            )
        yield _socket(jack, x, y)


def _socket(jack: Jack, x: float, y: float) -> str:
    name = f"<title>{safe(jack.name)}</title>"
    return (
        f'<circle class="socket {jack.light.value}" cx="{x:.1f}" cy="{y:.1f}" '
        f'r="4.5">{name}</circle>'
    )


def _through(place: Place, box: Box) -> Iterator[str]:
    if box.is_passage or is_straight(box):
        for jack in box.inputs:
            y = place.jacks[jack.name]
            yield _inner(jack.light, 0.0, y, place.width, y)
        return
    outs = [jack.name for jack in box.outputs]
    start = PAD + labels_width(box, box.inputs)
    rails = {
        name: start + RAIL * (len(outs) - 1 - n) + RAIL / 2
        for n, name in enumerate(outs)
    }
    yield from _rows(place, box, rails)
    yield from _rails(place, box, rails)
    for join in box.joins:
        yield _pin(join, rails[join.target], place.jacks[join.source])


def _rows(place: Place, box: Box, rails: dict[str, float]) -> Iterator[str]:
    for jack in box.inputs:
        y = place.jacks[jack.name]
        mine = [j for j in box.joins if j.source == jack.name]
        yield _inner(Light.DARK, 0.0, y, max(rails[j.target] for j in mine), y)
        for light in (Light.PERHAPS, Light.LIT):
            ends = [rails[j.target] for j in mine if j.light is light]
            if ends:
                yield _inner(light, 0.0, y, max(ends), y)


def _rails(place: Place, box: Box, rails: dict[str, float]) -> Iterator[str]:
    for jack in box.outputs:
        x, y = rails[jack.name], place.jacks[jack.name]
        mine = [j for j in box.joins if j.target == jack.name]
        yield _inner(Light.DARK, x, min(place.jacks[j.source] for j in mine), x, y)
        for light in (Light.PERHAPS, Light.LIT):
            tops = [place.jacks[j.source] for j in mine if j.light is light]
            if tops:
                yield _inner(light, x, min(tops), x, y)
        yield _inner(jack.light, x, y, place.width, y)


def _inner(light: Light, x: float, y: float, to_x: float, to_y: float) -> str:
    return (
        f'<path class="wire {light.value}" d="M{x:.1f} {y:.1f}L{to_x:.1f} {to_y:.1f}"/>'
    )


def _pin(join: Join, x: float, y: float) -> str:
    """A pin where the two meet; a hole with a bar where they are cut."""
    where = f"{join.source} to {join.target}"
    at = f'transform="translate({x:.1f} {y:.1f})"'
    if join.guard:
        words = f"{where} is cut, and must stay so: see {join.guard}"
        return (
            f'<g class="cut guard" {at}><title>{safe(words)}</title>'
            f"{guard_sign(join.guard)}</g>"
        )
    if not join.is_open:
        by = ", ".join(join.shut_by)
        words = f"{where} is cut" + (f" by {by}" if by else "")
        return f'<g class="cut" {at}><title>{safe(words)}</title>{CUT_SIGN}</g>'
    words = f"{where}: {_WORDS[join.light]}"
    inside = '<circle class="pin" r="6"/>'
    if join.light is Light.PERHAPS:
        inside += '<path class="half" d="M0 -6A6 6 0 0 1 0 6Z"/>'
    return (
        f'<g class="join {join.light.value}" {at}><title>{safe(words)}</title>'
        f"{inside}</g>"
    )


CUT_SIGN = '<circle class="hole" r="7"/><path class="bar" d="M-4.5 4.5L4.5 -4.5"/>'
_WORDS = {
    Light.LIT: "open, sound gets through",
    Light.PERHAPS: "perhaps open",
    Light.DARK: "open, nothing to hear",
}


def guard_sign(number: int) -> str:
    """A cut that protects: bars beside a number that the notes below explain."""
    return (
        '<rect class="gap" x="-14" y="-9" width="28" height="18"/>'
        '<path class="bar" d="M-14 -8V8M14 -8V8"/>'
        '<path class="shield" d="M0 -11L11 0L0 11L-11 0Z"/>'
        f'<text class="number" y="4" text-anchor="middle">{number}</text>'
    )
