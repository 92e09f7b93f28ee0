"""The patch as the core judges it: every jack, every box, and what joins inside."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from bridge.core.control import Kind
from bridge.core.jacks import Box, Condition, Patch, Way
from bridge.core.wire import Value
from bridge.files.profile_model import ControlType, Flow
from bridge.files.studio_draft import Draft, Gear
from bridge.files.studio_pan import pans_of


def patch_of(draft: Draft, labels: Mapping[str, str]) -> Patch:
    """Return the patch of a studio that was read whole.

    labels: for each control by its full name, how it is shown.
    """
    jacks = {}
    for gear in draft.gear.values():
        for jack in gear.profile.jacks.values():
            name = f"{gear.name}.{jack.name}"
            jacks[name] = replace(jack.facts, name=name, gear=gear.name)
    boxes = {
        gear.name: Box(
            gear.name,
            gear.profile.kind,
            gear.profile.passive,
            tuple(_way(gear, flow) for flow in gear.profile.flows),
        )
        for gear in draft.gear.values()
    }
    return Patch(jacks, boxes, tuple(draft.cables), labels, pans_of(draft))


def _way(gear: Gear, flow: Flow) -> Way:
    return Way(
        f"{gear.name}.{flow.source.name}",
        f"{gear.name}.{flow.target.name}",
        _condition(gear, flow),
        flow.source.lane,
        flow.target.lane,
    )


def _condition(gear: Gear, flow: Flow) -> Condition:
    """When something passes; a level has no such values: it is taken as open."""
    open_at: dict[str, frozenset[Value]] = {}
    for gate in flow.gates:
        if gate.table is None:
            continue
        name = f"{gear.name}: {gate.control}"
        values = frozenset(value for value, factor in gate.table if factor > 0.0)
        control = gear.profile.controls[gate.control]
        if not _always(control, values):
            open_at[name] = open_at.get(name, values) & values
    return open_at


def _always(control: ControlType, values: frozenset[Value]) -> bool:
    return control.kind is Kind.SWITCH and values == {False, True}
