"""The shipped studios with other gear in the same place, and what it does then."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from bridge.core.recall import Recall
from bridge.core.studio import Studio
from bridge.core.wire import Midi, Osc
from bridge.faces.stage import replaced
from bridge.files.shelf import shipped_studios
from tests.faults.truth import address

TOGGLES: Final = "observatory with toggles"
MEMORIES: Final = "observatory with memories"
LEVELS: Final = "observatory with levels in steps"

VARIANTS: Final[dict[str, tuple[str, tuple[tuple[str, str], ...]]]] = {
    MEMORIES: (
        "observatory",
        (
            (
                'profile: desk-osc, osc: "192.168.4.20:9000"',
                (
                    'profile: desk-osc-memories, osc: "192.168.4.20:9000", '
                    "memories: {1: phones, 2: speakers, 3: remote call, 4: start}"
                ),
            ),
        ),
    ),
    LEVELS: (
        "observatory",
        (
            ("profile: desk-osc,", "profile: desk-osc-levels,"),
            (
                "monitor: [mic, jingles], changeover: rest}",
                (
                    "monitor: [mic, jingles], changeover: rest, mic level: 0 dB, "
                    "jingles level: 0 dB, astronomer level: 0 dB, in 2 level: off, "
                    "in 3/4 level: off}\n  talk over: {from: phones, "
                    "jingles level: -20 dB}"
                ),
            ),
            ("changeover: pulled}", "changeover: pulled, jingles level: 0 dB}"),
        ),
    ),
    TOGGLES: ("observatory", (("profile: desk-osc,", "profile: desk-toggle,"),)),
}
"""Name -> the shipped studio, and what is written in it instead of what."""


def studio_file(name: str, folder: Path) -> Path:
    """The file of a shipped studio, or of a variant, written into the folder."""
    if name not in VARIANTS:
        return shipped_studios() / f"{name}.yaml"
    shipped, changes = VARIANTS[name]
    text = (shipped_studios() / f"{shipped}.yaml").read_text("utf-8")
    file = folder / "variant" / f"{shipped}.yaml"
    file.parent.mkdir(exist_ok=True)
    file.write_text(replaced(text, *changes), "utf-8")
    return file


def beyond_switches(studio: Studio) -> dict[str, Any]:
    """What the simulated desk does besides keeping values; see `faces.simdesk`."""
    toggles = {
        pressed.address: said.address
        for control in studio.controls.values()
        if control.toggles
        for pressed in control.messages[control.values[0]]
        for said in control.said_for(control.values[0])
        if isinstance(pressed, Osc) and isinstance(said, Osc)
    }
    recalls = [
        [*address(recall.messages[-1]), dict(_brought(studio, recall))]
        for recall in studio.recalls
        if isinstance(recall.messages[-1], Midi | Osc)
    ]
    return {"toggles": toggles, "recalls": recalls}


def _brought(studio: Studio, recall: Recall) -> Iterator[tuple[str, object]]:
    """The desk's addresses that a recall sets, and the numbers it sets them to."""
    for name, value in recall.values.items():
        for message in studio.controls[name].said_for(value):
            if isinstance(message, Midi | Osc):
                yield address(message)
