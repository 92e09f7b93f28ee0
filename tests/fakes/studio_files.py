"""A studio file to begin from, and how to look into what it becomes."""

from pathlib import Path

from bridge.core.control import Control
from bridge.core.studio import Studio
from bridge.files.studio import Loaded, load

# The example of the design page, in the syntax that it became.
EXAMPLE = """
studio: Hilltop observatory, Friday show

people:
  presenter:  {room: dome}
  astronomer: {room: far away, round trip: 180 ms, echo return loss: 30 dB}
feeds:
  stream: {}

gear:
  desk:       {profile: desk-control-change, midi: "Desk MIDI 1"}
  changeover: {profile: changeover-gpio, line: 17}
  laptop:
    profile: computer-two-pairs
    plays: {astronomer: pair 1, jingles: pair 2}
    takes: {astronomer: capture, stream: capture}
  mic:        {profile: microphone-dynamic-cardioid, room: dome,
               spoken into by: presenter, distance: 0.12 m}
  speakers:   {profile: speakers-active, room: dome, listening level: 74 dB at 1 m}
  phones:     {profile: headphones-active, worn by: presenter, listening level: 74 dB}

patch:
  - mic.out               -> desk.in 1
  - laptop.pair 1         -> desk.in 5/6      # the call
  - laptop.pair 2         -> desk.in 7/8      # jingles
  - desk.program out      -> laptop.capture
  - desk.monitor out      -> changeover.in
  - changeover.rest       -> phones.in       # no power: headphones
  - changeover.pulled     -> speakers.in

distances:
  speakers to mic: 1.2 m at 140 deg
  speakers to presenter: 1 m

scenes:
  start:       {everything: off}
  phones:      {changeover: rest}
  speakers:    {changeover: pulled, mic to monitor: off}
  remote call:
    {from: phones, program: [mic, jingles], monitor: [mic, jingles, astronomer]}

needs:                                    # beyond the house rules
  - presenter hears astronomer in remote call
  - stream hears presenter always
keep:
  - stream hears presenter                # also while a crossing is under way

buttons:
  pedal:
    from: {midi: "Pedal", control: 64}
    tap:  [phones, speakers]              # goes round
    hold: remote call
"""


def load_text(tmp_path: Path, text: str) -> Loaded:
    """Load a studio from a text."""
    file = tmp_path / "studio.yaml"
    file.write_text(text)
    return load(file, shown="studio.yaml")


def whole(loaded: Loaded) -> Studio:
    """The studio of a file without any finding."""
    assert loaded.findings == ()
    assert loaded.studio is not None
    return loaded.studio


def control(studio: Studio, label: str) -> Control:
    """The one control that is shown by this label."""
    (found,) = (c for c in studio.controls.values() if c.label == label)
    return found


def edges(studio: Studio, start: str) -> list[tuple[str, str]]:
    """Edges whose source node's name begins so, as pairs of names."""
    names = [node.name for node in studio.graph.nodes]
    return [
        (names[edge.source], names[edge.target])
        for edge in studio.graph.edges
        if names[edge.source].startswith(start)
    ]
