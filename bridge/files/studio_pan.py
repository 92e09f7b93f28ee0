"""Pan: where strips of one lane stand between the sides of a stereo bus."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from bridge.core.panning import POSITIONS, Pan, Side, pan_gains
from bridge.core.units import decibels
from bridge.files.profile_model import Flow
from bridge.files.shapes import Said, unknown_name
from bridge.files.studio_draft import Draft, Gear
from bridge.files.studio_graph import Lanes
from bridge.files.tree import Text


def panned(
    gear: Gear, flow: Flow, source: Lanes, target: Lanes
) -> Iterator[tuple[Lanes, float]]:
    """The lanes that a flow goes to, with the gain (dB) that pan gives each.

    Pan concerns a strip of one lane on a stereo bus; what is silent is left out.
    """
    profile, strip = gear.profile, flow.source.name
    on_bus = strip in profile.strips and flow.target.name in profile.buses
    if profile.pan_law is None or not on_bus or (len(source), len(target)) != (1, 2):
        yield target, 0.0
        return
    position = POSITIONS[_pan(gear, strip).side]
    gains = pan_gains(profile.pan_law, position)
    for lane, gain in zip(target, gains, strict=True):
        if gain > 0.0:
            yield (lane,), decibels(gain)


def pans_of(draft: Draft) -> Mapping[str, Pan]:
    """By full jack name, where every pan knob in the studio stands."""
    return {
        f"{gear.name}.{strip}": _pan(gear, strip)
        for gear in draft.gear.values()
        if gear.profile.pan_law is not None
        for strip in gear.profile.strips
        if gear.profile.points[strip] == 1
    }


def check_pan(draft: Draft, gear: Gear) -> None:
    """Note a pan of what has none."""
    profile = gear.profile
    if profile.kind != "desk" or not gear.part.pan:
        return  # a pan of other gear is out of place, and that is said already
    for strip, said in _said(gear):
        if profile.pan_law is None:
            draft.notes.error(
                "no-pan-law",
                f"{gear.name}: the profile {profile.name} has no pan law",
                strip.place,
                note="how much the centre loses on each side is in the desk's manual",
                cure="add a pan law: to the profile, such as -3 dB, or leave pan: out",
            )
            return
        if strip.value not in profile.strips:
            what = f"{gear.name}: the strip"
            rule, known = "unknown-name", profile.strips
            unknown_name(draft.notes, rule, what, strip.value, strip.place, known)
        elif profile.points[strip.value] != 1:
            draft.notes.error(
                "key-out-of-place",
                f"{gear.name}: {strip.value} is stereo, and keeps its own sides",
                said.place,
                note="pan: is for strips of one lane",
                cure=f"leave {strip.value} out of pan:",
            )


def _said(gear: Gear) -> Iterator[tuple[Text, Said[str]]]:
    for entry in gear.part.pan:
        if entry.part is not None:
            yield entry.name, entry.part


def _pan(gear: Gear, strip: str) -> Pan:
    for name, said in _said(gear):
        if name.value == strip:
            return Pan(Side(said.value), said.place)
    return Pan(Side.CENTRE)
