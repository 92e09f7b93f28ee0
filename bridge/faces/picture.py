"""Draw a studio in one scene into an SVG file, or to standard output."""

from __future__ import annotations

from pathlib import Path

from bridge.faces.flow.chart import chart
from bridge.faces.flow.svg import in_words, to_svg
from bridge.faces.hears import named, setting_of
from bridge.faces.opened import opened
from bridge.faces.outcome import CouldNotRunError, Exit, Outcome
from bridge.faces.terms import with_terms


def picture(path: Path, scene: str | None, target: Path | None) -> Outcome:
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
    try:
        target.write_text(svg, encoding="utf-8")
    except OSError as error:
        why = f"{target} cannot be written: {error.strerror or error}"
        raise CouldNotRunError(why, "name a file in a folder of yours") from error
    data = {"file": str(target), "guards": list(drawn.guards)}
    told = Outcome(Exit.FINE, f"{target}: {in_words(drawn)}", data)
    return with_terms(studio.studio, told)
