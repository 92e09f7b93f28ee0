"""Gear: its profile, its keys, its connection, and what flows inside it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from bridge.core.finding import Place
from bridge.core.graph import Gate
from bridge.files.near import did_you_mean
from bridge.files.notes import Notes
from bridge.files.profile import load_profile
from bridge.files.profile_model import Point, Profile
from bridge.files.schema_gear import GearPart
from bridge.files.shapes import unknown_name
from bridge.files.studio_draft import Draft, Gear
from bridge.files.studio_graph import Lanes
from bridge.files.studio_modbus import modbus_port
from bridge.files.studio_pan import check_pan, panned
from bridge.files.studio_ports import Ports, missing
from bridge.files.tree import Text

_FILE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _-]{0,79}")

ONLY_FOR: dict[str, tuple[str, ...]] = {
    "room": ("microphone", "speakers"),
    "spoken into by": ("microphone",),
    "distance": ("microphone",),
    "listening level": ("speakers", "headphones"),
    "worn by": ("headphones",),
    "pan": ("desk",),
    "plays": ("computer",),
    "takes": ("computer",),
}
"""Keys that mean something for some kinds of gear only."""

NEEDED_BY: dict[str, tuple[str, ...]] = {
    "microphone": ("room",),
    "speakers": ("room", "listening level"),
    "headphones": ("worn by", "listening level"),
}
"""Keys that some kinds of gear cannot do without."""

SPEAKS_KEYS: dict[str, tuple[str, ...]] = {
    "midi": ("midi", "nth"),
    "osc": ("osc", "listen", "over"),
    "line": ("line", "chip", "released"),
    "modbus": ("modbus",),
}
"""How gear is reached, by what its profile speaks; the first key is needed."""

EXAMPLES = {
    "midi": '"Desk MIDI 1"',
    "osc": "192.168.4.20:9000",
    "line": "17",
    "modbus": "{serial: /dev/ttyUSB0, unit: 1}",
}


class Shelf:
    """Finds profiles by name and reads each once."""

    def __init__(self, folders: Iterable[Path], notes: Notes) -> None:
        self.folders = tuple(folders)
        self.notes = notes
        self.texts: dict[str, str] = {}
        self._read: dict[str, Profile | None] = {}

    def known(self) -> tuple[str, ...]:
        """Return the names of all profiles."""
        found: dict[str, None] = {}
        for folder in self.folders:
            found |= dict.fromkeys(sorted(file.stem for file in folder.glob("*.yaml")))
        return tuple(found)

    def profile(self, name: Text) -> Profile | None:
        """Return a profile, or None after noting what is wrong."""
        if name.value in self._read:
            return self._read[name.value]
        file = self._file(name.value)
        if file is None:
            unknown_name(
                self.notes,
                "unknown-profile",
                "the profile",
                name.value,
                name.place,
                self.known(),
                cure=did_you_mean(name.value, self.known())
                or "put a profile of your own into a folder profiles beside this file",
            )
            return None
        shown = f"{file.parent.name}/{file.name}"
        notes = Notes()
        profile, text = load_profile(file, shown, notes)
        self.texts[shown] = text
        if profile is not None and profile.name != name.value:
            notes.error(
                "profile-name",
                f'the file {shown} says that it is the profile "{profile.name}"',
                name.place,
                cure="give the file and the profile the same name",
            )
        self.notes.add(notes.findings)
        self._read[name.value] = profile
        return profile

    def _file(self, name: str) -> Path | None:
        if not _FILE_NAME.fullmatch(name):
            return None
        files = (folder / f"{name}.yaml" for folder in self.folders)
        return next((file for file in files if file.is_file()), None)


def add_gear(draft: Draft, shelf: Shelf, ports: Ports) -> None:
    """Read every gear's profile and put it into the graph."""
    for entry in draft.part.gear:
        profile = shelf.profile(entry.part.profile) if entry.part else None
        if entry.part is None or profile is None:
            draft.incomplete = True
            continue
        port = _port(draft, ports, entry.name, entry.part, profile)
        ports.renew(port, profile.renews)
        gear = Gear(entry.name.value, entry.part, profile, entry.name.place, port)
        _keys_in_place(draft, gear)
        check_pan(draft, gear)
        draft.gear[gear.name] = gear
        _inside(draft, gear)


def lanes(draft: Draft, gear: Gear, point: str) -> Lanes:
    """Return the nodes of a jack or inside point of gear."""
    return draft.graph.lanes(f"{gear.name}.{point}", gear.profile.points[point])


def _inside(draft: Draft, gear: Gear) -> None:
    for point in gear.profile.points:
        lanes(draft, gear, point)
    for flow in gear.profile.flows:
        gates = tuple(
            Gate(f"{gear.name}: {gate.control}", gate.table) for gate in flow.gates
        )
        delay = sum(
            gear.profile.jacks[point.name].delay_ms
            for point in (flow.source, flow.target)
            if point.name in gear.profile.jacks
        )
        source, target = _end(draft, gear, flow.source), _end(draft, gear, flow.target)
        for lanes_of, gain_db in panned(gear, flow, source, target):
            draft.graph.connect(
                source,
                lanes_of,
                gain_db=flow.gain_db + gain_db,
                delay_ms=flow.delay_ms + delay,
                gates=gates,
                place=flow.place,
            )


def _end(draft: Draft, gear: Gear, point: Point) -> Lanes:
    nodes = lanes(draft, gear, point.name)
    return nodes if point.lane is None else (nodes[point.lane],)


def _keys_in_place(draft: Draft, gear: Gear) -> None:
    """Note keys that mean nothing for this kind of gear, and keys it needs."""
    profile, given = gear.profile, _given(gear.part)
    for key, kinds in ONLY_FOR.items():
        if key in given and profile.kind not in kinds:
            why = f"it is for {' and '.join(kinds)} only"
            _out_of_place(draft, gear.name, key, given[key], why)
    for language, keys in SPEAKS_KEYS.items():
        for key in keys:
            if key in given and profile.speaks != language:
                speaks = profile.speaks or "nothing: it is set by hand"
                why = f"the profile {profile.name} speaks {speaks}"
                _out_of_place(draft, gear.name, key, given[key], why)
    for key in NEEDED_BY.get(profile.kind, ()):
        if key not in given:
            what = f"{gear.name} ({profile.kind})"
            example = _example(key, profile.kind)
            missing(draft.notes, what, key, gear.place, example)
            draft.incomplete = True


def _given(part: GearPart) -> dict[str, Place]:
    there = {
        "room": part.room,
        "spoken into by": part.speaker,
        "distance": part.distance,
        "listening level": part.listening_level,
        "worn by": part.wearer,
        "pan": part.pan[0].name if part.pan else None,
        "plays": part.plays[0].name if part.plays else None,
        "takes": part.takes[0].name if part.takes else None,
        "midi": part.midi,
        "nth": part.nth,
        "osc": part.osc,
        "listen": part.listen,
        "over": part.over,
        "line": part.line,
        "chip": part.chip,
        "released": part.released,
        "modbus": part.modbus,
    }
    return {key: said.place for key, said in there.items() if said is not None}


def _example(key: str, kind: str) -> str:
    if key == "listening level":
        return "74 dB" if kind == "headphones" else "74 dB at 1 m"
    return {"room": "dome", "worn by": "presenter"}[key]


def _out_of_place(draft: Draft, name: str, key: str, place: Place, why: str) -> None:
    draft.notes.error(
        "key-out-of-place",
        f'{name}: "{key}" means nothing here',
        place,
        note=why,
        cure=f"leave {key}: out, or choose another profile",
    )


def _port(
    draft: Draft, ports: Ports, entry: Text, gear: GearPart, profile: Profile
) -> str:
    """Return the name of the connection; the gear's own name if there is none."""
    name = entry.value
    if profile.speaks is None:
        return name
    key = SPEAKS_KEYS[profile.speaks][0]
    if key not in _given(gear):
        missing(draft.notes, f"{name} (speaks {key})", key, entry.place, EXAMPLES[key])
    if gear.midi and profile.speaks == "midi":
        return ports.midi(name, gear.midi, gear.nth, profile.spacing_ms)
    if gear.osc and profile.speaks == "osc":
        return ports.osc(name, gear.osc, gear.listen, gear.over) or name
    if gear.line and profile.speaks == "line":
        high = gear.released is not None and gear.released.value == "high"
        return ports.output(name, gear.line, gear.chip, released_high=high)
    if gear.modbus and profile.speaks == "modbus":
        return modbus_port(ports, name, gear.modbus, profile)
    return name
