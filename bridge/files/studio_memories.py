"""The memories of a studio's gear: which scene is stored in each, and what it sets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from bridge.core.control import Control, Reach
from bridge.core.recall import Recall
from bridge.core.studio import Studio
from bridge.core.wire import Value
from bridge.files.profile_model import MemoryType
from bridge.files.shapes import unknown_name
from bridge.files.studio_draft import Draft, Gear
from bridge.files.tree import Text

MOST_NAMED = 4


def with_memories(studio: Studio, draft: Draft) -> Studio:
    """The studio with what each memory of its gear brings back."""
    recalls = tuple(
        recall
        for gear in draft.gear.values()
        for recall in _recalls(studio, draft, gear)
    )
    return replace(studio, recalls=recalls)


def _recalls(studio: Studio, draft: Draft, gear: Gear) -> Iterator[Recall]:
    known = {memory.name: memory for memory in gear.profile.memories}
    stored: dict[str, Text] = {}
    for entry in gear.part.memories:
        name, what = entry.name, f"{gear.name}: the memory"
        if name.value not in known:
            unknown_name(
                draft.notes,
                "unknown-name",
                what,
                name.value,
                name.place,
                known,
                cure="" if known else "leave memories: out; the profile has none",
            )
        elif known[name.value].sets is not None:
            _always_the_same(draft, gear, name)
        elif entry.part is not None:
            stored[name.value] = entry.part
    for memory in known.values():
        values = memory.sets
        if values is not None:
            values = {f"{gear.name}: {name}": value for name, value in values.items()}
        elif memory.name in stored:
            values = _stored(studio, draft, gear, memory, stored[memory.name])
        if values:
            yield _recall(studio.controls, gear, memory, values)


def _recall(
    controls: Mapping[str, Control],
    gear: Gear,
    memory: MemoryType,
    values: Mapping[str, Value],
) -> Recall:
    ours = {n: v for n, v in values.items() if controls[n].reach is Reach.REMOTE}
    return Recall(
        name=f"{gear.name} memory {memory.name}",
        values=ours,
        messages=tuple(replace(message, port=gear.port) for message in memory.messages),
        atomic=memory.at_once,
        settle_ms=memory.settle_ms,
    )


def _stored(
    studio: Studio, draft: Draft, gear: Gear, memory: MemoryType, name: Text
) -> dict[str, Value] | None:
    """What the scene says of this gear; notes a scene that leaves something open."""
    scene = studio.scenes.get(name.value)
    if scene is None:
        if name.value not in {entry.name.value for entry in draft.part.scenes}:
            what, known = "the scene", studio.scenes
            unknown_name(
                draft.notes, "unknown-scene", what, name.value, name.place, known
            )
        return None
    left = {f"{gear.name}: {control}" for control in memory.leaves}
    ours = {
        control.name: control
        for control in studio.controls.values()
        if control.gear == gear.name and control.reach is Reach.REMOTE
    }
    if not ours:
        draft.notes.error(
            "memory-idle",
            f"{gear.name}: memory {memory.name} would set nothing: all its buttons are "
            "set by hand",
            name.place,
            note="a memory saves messages; here there are none to save",
            cure="describe the memories as one selector, as the profile desk-memories "
            "does, and leave memories: out here",
        )
        return None
    wanted = [control for n, control in ours.items() if n not in left]
    unsaid = [control.label for control in wanted if control.name not in scene.values]
    if unsaid:
        more = f" and {len(unsaid) - MOST_NAMED} more" if unsaid[MOST_NAMED:] else ""
        draft.notes.error(
            "memory-open",
            f"scene {name.value} leaves {', '.join(unsaid[:MOST_NAMED])}{more} as it "
            f"is, but a memory of {gear.name} sets everything",
            name.place,
            cure="store a scene that sets all of it (with everything: off first), or "
            "write in the profile under leaves: what the memory does not touch",
        )
        return None
    return {control.name: scene.values[control.name] for control in wanted}


def _always_the_same(draft: Draft, gear: Gear, name: Text) -> None:
    draft.notes.error(
        "key-out-of-place",
        f"{gear.name}: memory {name.value} sets the same in every studio",
        name.place,
        note=f"the profile {gear.profile.name} says so under sets:",
        cure="leave it out",
    )
