"""Writes what was learned into a profile's text, and leaves all else as it is."""

from __future__ import annotations

import re
from collections.abc import Mapping

from bridge.core.desk_learning import DeskTable
from bridge.core.fader_learning import FaderTable

_NUMBER = re.compile(r"(\bnumber\s*:\s*)\d+")

SETTLE_MS = 50
"""Written for a desk of which nobody has measured when the sound follows."""


def with_table(
    text: str,
    table: DeskTable,
    faders: FaderTable | None = None,
    *,
    answers: bool = False,
) -> str:
    """The text with the numbers of strips and buses, and the templates at its end.

    answers: the desk has answered when it was asked how each button stands.

    Comments, order and blanks stay. It is for a text that was read without a mistake,
    and that has no template for strips and buses yet.
    """
    lines = text.splitlines()
    numbered = _numbered(lines, "strips", table.strips)
    numbered = _numbered(numbered, "buses", table.buses)
    tail = [
        "",
        "# Learned from what the desk sends. `settle` was not measured: when the sound",
        "# has surely followed.",
        "each strip to each bus:",
        "  switch:",
        f"    message: {table.message}",
        f"    values: {{off: {table.off:g}, on: {table.on:g}}}",
        f"    settle: {SETTLE_MS} ms",
    ]
    if faders is not None:
        scale = ", ".join(f"{level}: {number:g}" for level, number in faders.scale)
        tail += [
            "",
            "each strip:",
            "  level:",
            f"    message: {faders.message}",
            f"    scale: {{{scale}}}",
            f"    settle: {SETTLE_MS} ms",
        ]
    keys = [("tells", "it told what was pressed on it")]
    if answers:
        keys.append(("answers", "it was asked, and answered"))
    said = {line.split(":")[0] for line in lines if line[:1] not in (" ", "#", "")}
    more = [f"{key}: true    # {why}" for key, why in keys if key not in said]
    return "\n".join([*numbered, *([""] if more else []), *more, *tail]) + "\n"


def _numbered(lines: list[str], key: str, numbers: Mapping[str, int]) -> list[str]:
    """Put the number of each name of one table where its number: stands."""
    made, inside, name = [], False, ""
    for line in lines:
        if line[:1] not in (" ", "#", ""):
            inside = line.split("#")[0].rstrip() == f"{key}:"
        entry = re.match(r"\s+([^\s#][^:#]*?)\s*:", line)
        if inside and entry and entry[1].strip("\"'") in numbers:
            name = entry[1].strip("\"'")
        found = inside and name
        made.append(_NUMBER.sub(rf"\g<1>{numbers[name]}", line) if found else line)
    return made
