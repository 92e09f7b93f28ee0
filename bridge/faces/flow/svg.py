"""The drawing as SVG: shapes and line styles carry the meaning, colours only help.

Rules of this file: no style attribute (a page with a strict content security policy
could not show it), every text from outside is escaped, and nothing is left to chance:
the same chart gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from bridge.faces.flow.heights import MARGIN
from bridge.faces.flow.layout import Drawn, layout, text_width
from bridge.faces.flow.model import Chart, Light
from bridge.faces.flow.svg_box import CUT_SIGN, drawn_box, guard_sign, safe

NOTE_ROW = 24.0
MOST_NOTE = 110
"""Characters of a note in one line; longer ones go on in the next."""

KEY = (
    ("lit", "sound gets through"),
    ("perhaps", "it may get through: something is not known"),
    ("dark", "connected, and silent"),
)


def style() -> str:
    """The style sheet of the drawing, light and dark."""
    return Path(__file__).with_name("flow.css").read_text(encoding="utf-8")


def to_svg(chart: Chart, *, alone: bool) -> str:
    """Draw a chart. alone: with its style sheet inside, for a file by itself."""
    laid = layout(chart)
    notes = list(_notes(chart))
    least = 2 * MARGIN + text_width(chart.title) * 1.5
    width = max(laid.width, 560.0, least if alone else 0.0, *(n[1] for n in notes))
    top = 44.0 if alone else 0.0
    height = top + laid.height + NOTE_ROW * len(notes) + MARGIN
    parts = [
        _opening(width, height),
        f'<title id="flow-title">{safe(chart.title)}</title>',
        f'<desc id="flow-words">{safe(in_words(chart))}</desc>',
    ]
    if alone:
        parts.append(f"<style>{style()}</style>")
        parts.append(f'<rect class="paper" width="{width:.0f}" height="{height:.0f}"/>')
        parts.append(
            f'<text class="head" x="{MARGIN}" y="32">{safe(chart.title)}</text>'
        )
    parts.append(f'<g transform="translate(0 {top:.0f})">')
    for light in (Light.DARK, Light.PERHAPS, Light.LIT):
        parts += [_line(d) for d in laid.lines if d.run.light is light]
    parts += [text for d in laid.lines if (text := _line_words(d))]
    for place in laid.places:
        parts += drawn_box(place)
    y = laid.height + NOTE_ROW / 2
    for draw, _ in notes:
        parts.append(f'<g transform="translate({MARGIN:.0f} {y:.0f})">{draw}</g>')
        y += NOTE_ROW
    parts += ["</g>", "</svg>"]
    return "\n".join(parts) + "\n"


def _opening(width: float, height: float) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="flow" role="img" '
        f'viewBox="0 0 {width:.0f} {height:.0f}" width="{width:.0f}" '
        f'height="{height:.0f}" aria-labelledby="flow-title flow-words">'
    )


def in_words(chart: Chart) -> str:
    """What a person who does not see the drawing is told."""
    return " ".join(sentences(chart))


def sentences(chart: Chart) -> list[str]:
    """The same, sentence by sentence."""
    open_joins = [
        f"{j.source} to {j.target}" + ("" if j.light is Light.LIT else " perhaps")
        for box in chart.boxes
        for j in box.joins
        if j.light is not Light.DARK and j.is_gated
    ]
    cuts = [
        f"{j.source} to {j.target}"
        for box in chart.boxes
        for j in box.joins
        if not j.is_open
    ]
    words = [f"Sound gets through: {', '.join(open_joins) or 'nowhere'}."]
    if cuts:
        words.append(f"Cut: {', '.join(cuts)}.")
    return words + [f"Protecting cut: {guard}." for guard in chart.guards]


# Lines between boxes


def _line(drawn: Drawn) -> str:
    light = drawn.run.light.value
    air = " air" if drawn.run.through_air else ""
    path = _corners(drawn) if drawn.back else _curves(drawn)
    x, y = drawn.points[-1]
    tip = f"M{x - 9:.1f} {y - 4:.1f}L{x - 1:.1f} {y:.1f}L{x - 9:.1f} {y + 4:.1f}Z"
    name = f"{drawn.run.source} to {drawn.run.target}"
    return (
        f'<g class="run {light}{air}"><title>{safe(name)}</title>'
        f'<path class="wire" d="{path}"/><path class="tip" d="{tip}"/></g>'
    )


def _curves(drawn: Drawn) -> str:
    """Level through the columns, curved between them."""
    (x, y), *rest = drawn.points
    path = f"M{x:.1f} {y:.1f}"
    for number, (to_x, to_y) in enumerate(rest):
        if number % 2 == 0 or to_y == y:
            path += f"L{to_x:.1f} {to_y:.1f}"
        else:
            middle = (x + to_x) / 2
            path += f"C{middle:.1f} {y:.1f} {middle:.1f} {to_y:.1f}"
            path += f" {to_x:.1f} {to_y:.1f}"
        x, y = to_x, to_y
    return path


def _corners(drawn: Drawn) -> str:
    first, *rest = drawn.points
    return f"M{first[0]:.1f} {first[1]:.1f}" + "".join(
        f"L{x:.1f} {y:.1f}" for x, y in rest
    )


def _line_words(drawn: Drawn) -> str:
    """What a lane says; a cable needs no words."""
    if not drawn.back:
        return ""
    run = drawn.run
    (right, lane), (left, _) = drawn.points[2], drawn.points[3]
    words = (
        f"{run.source.partition('.')[0]} to {run.target.partition('.')[0]} through "
        f"the air, {run.gain_db:+.0f} dB"
    )
    middle = (left + right) / 2
    if text_width(words) > right - left - 10:
        return ""
    return (
        f'<text class="lane {run.light.value}" x="{middle:.0f}" y="{lane - 5:.0f}" '
        f'text-anchor="middle">{safe(words)}</text>'
    )


# What stands below


def _notes(chart: Chart) -> Iterator[tuple[str, float]]:
    """Each line below the drawing, and how wide it is."""
    for number, words in enumerate(chart.guards, 1):
        for line, part in enumerate(_wrapped(f"cut for safety: {words}")):
            sign = (
                f'<g class="cut guard" transform="translate(14 0)">'
                f"{guard_sign(number)}</g>"
                if line == 0
                else ""
            )
            yield sign + _note(part, 38), 56 + text_width(part) + MARGIN
    x, key = 0.0, ""
    for light, words in KEY:
        key += (
            f'<g transform="translate({x:.0f} 0)"><path class="wire {light}" '
            f'd="M0 0L34 0"/>{_note(words, 42)}</g>'
        )
        x += 42 + text_width(words) * 0.95 + 18
    key += f'<g transform="translate({x + 7:.0f} 0)"><g class="cut">{CUT_SIGN}</g>'
    key += f"{_note('cut', 14)}</g>"
    yield key, x + 80 + MARGIN


def _note(words: str, x: float) -> str:
    return f'<text class="note" x="{x:.0f}" y="4">{safe(words)}</text>'


def _wrapped(text: str) -> Iterable[str]:
    line = ""
    for word in text.split():
        if line and len(line) + len(word) >= MOST_NOTE:
            yield line
            line = word
        else:
            line = f"{line} {word}".strip()
    yield line
