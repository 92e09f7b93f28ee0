"""Draw a studio in one scene into an SVG file, or to standard output."""

from __future__ import annotations

from pathlib import Path
from textwrap import fill

from bridge.faces.flow.chart import chart
from bridge.faces.flow.svg import sentences, to_svg
from bridge.faces.hears import named, setting_of
from bridge.faces.opened import opened
from bridge.faces.outcome import Exit, Outcome
from bridge.faces.svg_file import write_svg
from bridge.faces.tables import WIDTH
from bridge.faces.terms import with_terms


def picture(
    path: Path, scene: str | None, target: Path | None, width: int = WIDTH
) -> Outcome:
    """Draw the flow; without a scene the studio as it is after its start."""
    studio = opened(path)
    if scene is not None:
        named(scene, studio.studio.scenes, "scene")
    belief = setting_of(studio.studio, scene)
    title = f"{studio.studio.name}: {scene or 'at start'}"
    drawn = chart(studio.judge, belief, title)
    svg = to_svg(drawn, alone=True)
    if target is None:
        return Outcome(Exit.FINE, svg.rstrip("\n"), {"svg": svg})
    write_svg("-o", target, svg)
    data = {"file": str(target), "guards": list(drawn.guards)}
    told = [fill(words, width, subsequent_indent="  ") for words in sentences(drawn)]
    text = "\n".join([f"{target}: {title}", *told])
    return with_terms(studio.studio, Outcome(Exit.FINE, text, data))
