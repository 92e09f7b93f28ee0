"""How a room sounds: by its reverberation time, or by what its surfaces absorb."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.core.rooms import absorption_m2, reverberation_s, surfaces_m2
from bridge.files.kinds import REVERBERATION
from bridge.files.notes import Notes
from bridge.files.schema_people import RoomPart


def absorption_of(
    name: str, room: RoomPart, place: Place, notes: Notes
) -> float | None:
    """Return the absorption area in m2 (Sabine); None for a room without any."""
    surfaces = [(e.part.value, e.part.at) for e in room.surfaces if e.part is not None]
    if room.surfaces and not surfaces:
        return None  # each of them is noted already
    if room.reverberation and surfaces:
        notes.error(
            "said-twice",
            f"{name}: surfaces and reverberation say the same",
            room.reverberation.place,
            cure="leave one of them out; a measured reverberation is the better one",
        )
        return None
    if not room.volume and not room.reverberation and not surfaces:
        return None
    if not room.volume or not (room.reverberation or surfaces):
        notes.error(
            "missing-key",
            f"{name}: volume and reverberation (or surfaces) belong together",
            place,
            cure="give both, or none for a room without reverberation",
        )
        return None
    if room.reverberation:
        return absorption_m2(room.volume.value, room.reverberation.value)
    area = surfaces_m2((size, (share or 0.0) / 100.0) for size, share in surfaces)
    time = reverberation_s(room.volume.value, area) if area else float("inf")
    if REVERBERATION.low <= time <= REVERBERATION.high:
        return area
    rings = f"{time:.2f} s long" if area else "without end"
    notes.error(
        "out-of-range",
        f"{name}: with these surfaces the room would ring {rings}",
        place,
        note=f"what is taken is {REVERBERATION.bounds}",
        cure="look at the volume and the areas, or measure the reverberation",
    )
    return None
