"""What the service says of itself: one JSON object, version 1.

{"treadle": 1, "asked": "status", "told": "status", "words": "resting in phones",
 "state": "resting", "scenes": ["phones"], "heading": "", "gestures": "...",
 "controls": [{"name", "label", "gear", "values": ["on"], "why", "age_s"}],
 "ports": {"desk": {"there": true, "why": "", "drops": {}}}, "drops": {...},
 "sent": 12, "press_to_wire_ms": 1.3}
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from bridge.core.cures import value_words
from bridge.core.machine import Machine
from bridge.engine.ports import Port
from bridge.engine.requests import VERSION


def status_of(
    machine: Machine,
    ports: Iterable[Port],
    drops: Mapping[str, int],
    now: float,
    *,
    sent: int,
    press_to_wire_s: float | None,
) -> dict[str, Any]:
    """The status as plain values; times are ages in seconds."""
    latency = None if press_to_wire_s is None else round(press_to_wire_s * 1000, 3)
    return {
        "treadle": VERSION,
        "asked": "status",
        "told": "status",
        "words": words_of(machine),
        "state": machine.state.value,
        "scenes": list(machine.scenes_in_force),
        "heading": machine.heading,
        "controls": [
            {
                "name": name,
                "label": control.label,
                "gear": control.gear,
                "values": sorted(
                    value_words(v) for v in machine.knowledge[name].values
                ),
                "why": machine.knowledge[name].ground.value,
                "age_s": round(max(0.0, now - machine.knowledge[name].since), 1),
            }
            for name, control in machine.studio.controls.items()
        ],
        "ports": {
            port.name: {
                "there": port.name not in machine.absent,
                "why": machine.absent.get(port.name, ""),
                "drops": dict(port.drops),
            }
            for port in ports
        },
        "drops": dict(drops),
        "sent": sent,
        "press_to_wire_ms": latency,
    }


def words_of(machine: Machine) -> str:
    """One line: what the service does, and in which scene."""
    scenes = " and ".join(machine.scenes_in_force)
    words = machine.state.value + (f" in {scenes}" if scenes else "")
    if machine.heading:
        words += f", on the way to {machine.heading}"
    if machine.absent:
        words += f"; not there: {', '.join(machine.absent)}"
    return words


def as_json(status: Mapping[str, Any]) -> str:
    """The status as one line."""
    return json.dumps(status)
