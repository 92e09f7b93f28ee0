"""A drawing goes into a file of its own, and over nothing but a drawing."""

from __future__ import annotations

from pathlib import Path

from bridge.faces.outcome import CouldNotRunError


def write_svg(option: str, target: Path, svg: str) -> None:
    """Write a drawing. Raises CouldNotRunError.

    option: what the file was named with. A name that does not end in .svg is a slip of
    the hand (a studio file, a journal), and would be lost.
    """
    if target.suffix.lower() != ".svg":
        why = f"{option}: {target} is not named .svg"
        raise CouldNotRunError(why, f"name it {target.with_suffix('.svg')}")
    try:
        target.write_text(svg, encoding="utf-8")
    except OSError as error:
        why = f"{target} cannot be written: {error.strerror or error}"
        raise CouldNotRunError(why, "name a file in a folder of yours") from error
