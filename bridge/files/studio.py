"""A studio file and its profiles in; a `core.studio.Studio`, or findings, out.

Strategy: each step reads one part, notes everything that is wrong with it, and goes
on, so that all errors come at once. What hangs on a broken part is not judged: one
mistake is said once. No exception leaves, whatever the files hold.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from bridge.core.demand import Waiver
from bridge.core.finding import Finding, Place, Severity
from bridge.core.intent import Found
from bridge.core.jacks import Patch
from bridge.core.patching import patch_findings
from bridge.core.readings import Reading, with_readings
from bridge.core.studio import Studio
from bridge.core.wire import OWN_DOOR
from bridge.files import refusals
from bridge.files.characters import text_of
from bridge.files.marks import MOST_FINDINGS, read
from bridge.files.notes import Notes
from bridge.files.parts import Part
from bridge.files.profile import bytes_of
from bridge.files.schema_studio import StudioPart
from bridge.files.shapes import unknown_name
from bridge.files.shelf import profile_folders
from bridge.files.studio_air import add_air
from bridge.files.studio_buttons import read_buttons
from bridge.files.studio_cables import patch_of
from bridge.files.studio_ceilings import ceilings
from bridge.files.studio_controls import make_controls
from bridge.files.studio_draft import Draft, full_name, whole
from bridge.files.studio_gear import Shelf, add_gear
from bridge.files.studio_intents import Wanted, with_intents
from bridge.files.studio_lamps import read_lamps
from bridge.files.studio_limits import read_limits, read_waivers
from bridge.files.studio_memories import with_memories
from bridge.files.studio_names import ControlNames
from bridge.files.studio_panel import read_panel
from bridge.files.studio_patch import add_cables
from bridge.files.studio_people import add_feeds, add_people, add_programs
from bridge.files.studio_ports import Ports
from bridge.files.studio_private import marked_private
from bridge.files.studio_readings import read_readings
from bridge.files.studio_scenes import read_scenes
from bridge.files.studio_sentences import read_sentences

START_SCENE = "start"
"""The scene that the service goes to when it starts, if there is one of this name."""

DOOR_PORT = 9720


@dataclass(frozen=True, slots=True)
class Loaded:
    """What came of a studio file.

    studio: None if there is an error among the findings. sources: the text of every
    file that was read, by the name that places show. patch: for whoever lays cables;
    None if something is wrong with what is not about cables.
    rated_life: by full control name, how many operations a control is rated for.
    intents: by scene, the setting found for what it says people should hear.
    readings: what meters showed; described: the studio without what they tell.
    door_port: where the service of this file is asked, as far as that can be read.
    """

    studio: Studio | None
    findings: tuple[Finding, ...]
    sources: Mapping[str, str]
    patch: Patch | None = None
    rated_life: Mapping[str, int] = field(default_factory=dict)
    intents: Mapping[str, Found] = field(default_factory=dict)
    readings: tuple[Reading, ...] = ()
    described: Studio | None = None
    door_port: int = DOOR_PORT


def load(path: Path, *, shown: str | None = None) -> Loaded:
    """Read a studio file and the profiles it names.

    `shown` is the name of the file in findings; the path as given if it is None.
    """
    name = shown or str(path)
    try:
        data = bytes_of(path)
    except OSError as error:
        finding = Finding(
            "file-not-read",
            f"{name} cannot be read: {error.strerror or error}",
            cure="check the name and the rights of the file",
        )
        return Loaded(None, (finding,), {})
    return load_text(data, name, Shelf(profile_folders(path), Notes()))


def load_text(data: bytes, name: str, shelf: Shelf) -> Loaded:
    """Read a studio from bytes; profiles come from the shelf."""
    notes = shelf.notes
    sources = {name: text_of(data)}
    tree = read(data, name)
    part = None
    if isinstance(tree, tuple):
        notes.add(tree)
    else:
        part = Part(StudioPart, "a studio", goes_on=True).read(tree, notes)
    if part is None:
        return Loaded(None, _shown(notes), sources)
    draft = Draft(part, notes)
    draft.incomplete = any(
        entry.part is None
        for entries in (part.rooms, part.people, part.feeds, part.gear)
        for entry in entries
    )
    studio, wanted = _studio(draft, shelf)
    patch = None
    found: dict[str, Found] = {}
    if wanted and not notes.is_broken():
        order = [entry.name.value for entry in part.scenes]
        studio, found = with_intents(studio, wanted, order, notes)
    if not notes.is_broken():
        studio = with_memories(studio, draft)
    described = studio
    readings: tuple[Reading, ...] = ()
    if not notes.is_broken():
        readings = read_readings(part.readings, studio, notes)
    if readings and not notes.is_broken():
        studio, wrong = with_readings(studio, readings)
        notes.add(wrong)
    if not notes.is_broken():
        patch = patch_of(draft, {c.name: c.label for c in studio.controls.values()})
        notes.add(
            finding
            for finding in patch_findings(patch)
            if not _is_waived(finding, studio.waivers)
        )
    rated = {
        full_name(gear, control): control.life
        for gear, control in draft.controls()
        if control.life is not None
    }
    return Loaded(
        None if notes.is_broken() else studio,
        _shown(notes),
        sources | shelf.texts,
        patch,
        rated,
        found,
        readings,
        None if notes.is_broken() else described,
        studio.door_port,
    )


def _is_waived(finding: Finding, waivers: tuple[Waiver, ...]) -> bool:
    """Whether the studio lives without this advice about a cable."""
    return finding.severity is Severity.ADVICE and any(
        waiver.rule == finding.rule
        and all(name in finding.message for name in waiver.about)
        for waiver in waivers
    )


def _shown(notes: Notes) -> tuple[Finding, ...]:
    """Return the findings, not more than anybody mends in one go."""
    found = tuple(notes.findings)
    if len(found) <= MOST_FINDINGS:
        return found
    return (*found[:MOST_FINDINGS], refusals.more_than_shown(MOST_FINDINGS))


def _studio(draft: Draft, shelf: Shelf) -> tuple[Studio, dict[str, Wanted]]:
    part, notes = draft.part, draft.notes
    door = part.service.port.value if part.service and part.service.port else DOOR_PORT
    ports = Ports(notes, door)
    _one_name_each(draft)
    add_gear(draft, shelf, ports)
    add_cables(draft)
    people = add_people(draft)
    add_feeds(draft)
    add_programs(draft)
    add_air(draft)
    names = ControlNames(draft)
    scenes = read_scenes(draft, names)
    controls, meanings = make_controls(names.controls.values(), scenes, notes)
    known = [entry.name.value for entry in part.scenes]
    limits, reasons = read_limits(part.limits.node if part.limits else None, notes)
    studio = Studio(
        name=part.studio.value,
        people=people,
        controls=controls,
        graph=draft.graph.finish(),
        sources=marked_private(draft),
        listeners=tuple(draft.listeners),
        scenes=scenes.scenes,
        sentences=read_sentences(draft, known),
        buttons=read_buttons(draft, ports, known),
        connections=tuple(ports.all),
        meanings=meanings,
        limits=limits,
        own_limits=reasons,
        waivers=read_waivers(part.lives_without, _names(draft), notes),
        air_gear=tuple(draft.air_gear),
        ceilings=tuple(ceilings(draft)),
        helpers=scenes.helpers,
        start_scene=START_SCENE if START_SCENE in known else None,
        safe_scene=_safe_scene(draft, known),
        mends_drift=part.drift is not None and part.drift.value == "mend",
        door_port=door,
        panel=read_panel(part.panel, notes),
        lamps=read_lamps(draft, known),
    )
    return studio, scenes.wanted


def _names(draft: Draft) -> Collection[str]:
    """Every name that a rule may be about; none if something is broken."""
    if draft.incomplete:
        return ()
    ends = [source.name for source in draft.sources]
    ends += [listener.name for listener in draft.listeners]
    jacks = (
        f"{g.name}.{jack}" for g in draft.gear.values() for jack in g.profile.jacks
    )
    return tuple(dict.fromkeys((*ends, *draft.gear, *jacks)))


def _safe_scene(draft: Draft, known: Sequence[str]) -> str | None:
    """The name of the safe scene; notes one that is not a scene."""
    name = draft.part.safe_scene
    if name is None:
        return None
    if name.value not in known:
        notes, rule = draft.notes, "unknown-scene"
        unknown_name(notes, rule, "the scene", name.value, name.place, known)
    return name.value


def _one_name_each(draft: Draft) -> None:
    """People, feeds, gear, buttons and what computers play share one set of names."""
    part = draft.part
    names = [
        entry.name
        for entries in (part.people, part.feeds, part.gear, part.buttons)
        for entry in entries
    ]
    people = {entry.name.value for entry in part.people}
    played: dict[str, None] = {}
    for _, gear, _ in whole(part.gear):
        for program in gear.plays:
            name = program.name
            if name.value not in people and name.value not in played:
                played[name.value] = None
                names.append(name)
    first: dict[str, Place] = {}
    for name in names:
        if name.value == OWN_DOOR:
            draft.notes.error(
                "name-taken",
                f'"{OWN_DOOR}" is the service itself',
                name.place,
                cure="give it another name",
            )
        place = first.setdefault(name.value, name.place)
        if place != name.place:
            draft.notes.error(
                "name-twice",
                f'"{name.value}" is the name of two things',
                name.place,
                note=f"the first one is in line {place.line}",
                cure="give one of them another name",
            )
