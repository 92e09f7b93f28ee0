"""A studio as a YAML text, and reading what must be sound or broken."""

from typing import Any

from bridge.core.finding import Finding
from bridge.files.marks import read
from bridge.files.tree import Listing, Node, Table, Text

STUDIO = """\
studio: Hilltop observatory, Friday show   # said at the top

people:
  presenter:  {room: dome}
  astronomer: {room: far away, round trip: 180 ms, echo return loss: 30 dB}
feeds:
  stream: {}
gear:
  desk: {profile: desk-control-change, port: "Desk MIDI 1"}
  laptop:
    plays: {astronomer: pair 1, jingles: pair 2}
patch:
  - mic.out               -> desk.in 1
  - laptop.pair 1         -> desk.in 5/6      # the call
scenes:
  start: {everything: off}
  remote call: {from: phones, program: [mic, jingles]}
  about: >
    one long text
    in two lines
  nothing:
"""


def table(text: str | bytes) -> Table:
    """Read what must be sound."""
    data = text.encode() if isinstance(text, str) else text
    root = read(data, "studio.yaml")
    assert isinstance(root, Table), root
    return root


def findings(text: str | bytes) -> tuple[Finding, ...]:
    """Read what must be broken."""
    data = text.encode() if isinstance(text, str) else text
    found = read(data, "studio.yaml")
    assert isinstance(found, tuple)
    assert found
    return found


def as_data(node: Node) -> Any:
    """Turn a tree into what a YAML library would return."""
    match node:
        case Text(value=value):
            return value
        case Listing(items=items):
            return [as_data(item) for item in items]
        case Table(entries=entries):
            return {key.value: as_data(child) for key, child in entries}
