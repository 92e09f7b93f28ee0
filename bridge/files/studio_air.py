"""The air of the studio: mouths, microphones, speakers, headphones and ears.

Strategy: everything is anchored to speech. A microphone is lined up so that whoever
speaks into it, at the distance that the file gives, is nominal level (0 dB); that
speech has a sound level there, and all else that reaches the microphone is held
against it. Speakers and headphones play nominal level at their listening level.
"""

from __future__ import annotations

import math

from bridge.core.graph import AirGear, Source, Transducer
from bridge.core.rooms import (
    Pattern,
    critical_distance_m,
    distance_gain_db,
    pickup_gain_db,
    room_gain_db,
)
from bridge.core.units import air_delay_ms, decibels
from bridge.files.profile_model import AIR, EARS
from bridge.files.studio_air_names import people_known, rooms_known
from bridge.files.studio_distances import ASSUMED_M, Distances
from bridge.files.studio_draft import FAR_AWAY, Draft, Gear, whole
from bridge.files.studio_gear import lanes
from bridge.files.studio_people import PASCAL_DB_SPL, ears, mouth
from bridge.files.studio_rooms import absorption_of
from bridge.files.tree import Text

SPEECH_DB_SPL = 60.0
"""Speech of normal effort, 1 m in front of the mouth (ISO 9921, from memory)."""

EAR_BEHIND_MOUTH_M, EAR_BESIDE_MOUTH_M = 0.1, 0.08
"""Where an ear is, seen from the mouth; half the breadth of a head (no source)."""

UNKNOWN_PATTERN = Pattern.OMNI
"""The pattern of a microphone whose profile gives none: it takes up everything."""


def add_air(draft: Draft) -> None:
    """Make the microphones sources, and connect through the air."""
    _Air(draft).connect()


class _Air:
    """The rooms, and what is in each."""

    def __init__(self, draft: Draft) -> None:
        self.draft = draft
        self.people = {
            name: part.room.value
            for name, part, _ in draft.people()
            if part.room.value != FAR_AWAY
        }
        self.microphones = self._kind("microphone")
        self.speakers = self._kind("speakers")
        self.headphones = [g for g in self._kind("headphones") if self._wearer(g)]
        self.critical = self._critical_distances()
        self.distances = Distances(
            draft,
            ears_of=tuple(self.people),
            makers=tuple(g.name for g in (*self.speakers, *self.headphones)),
            microphones=tuple(g.name for g in self.microphones),
        )

    def connect(self) -> None:
        """Connect whatever shares a room."""
        in_rooms = (*self.microphones, *self.speakers)
        worn = (*self.microphones, *self._kind("headphones"))
        is_known = rooms_known(self.draft, in_rooms, self.people)
        if not people_known(self.draft, worn, self.people) or not is_known:
            self.distances.broken = True
        for microphone in self.microphones:
            self._microphone(microphone)
        for speakers in self.speakers:
            self._speakers(speakers)
        for headphones in self.headphones:
            self._headphones(headphones)
        self.distances.finish()

    def _kind(self, kind: str) -> list[Gear]:
        return [g for g in self.draft.gear.values() if g.profile.kind == kind]

    # Rooms

    def _critical_distances(self) -> dict[str, float]:
        """Where direct and reverberant sound are equal, for sound sent all round."""
        found = {}
        for name, part, place in whole(self.draft.part.rooms):
            area = absorption_of(name, part, place, self.draft.notes)
            if area is not None:
                found[name] = critical_distance_m(area)
        return found

    def _room(self, gear: Gear) -> str:
        return gear.part.room.value if gear.part.room else ""

    def _beyond(self, room: str) -> float:
        return self.critical.get(room, math.inf)

    # Microphones

    def _microphone(self, gear: Gear) -> None:
        room, nodes = self._room(gear), lanes(self.draft, gear, AIR)
        self.draft.sources.append(Source(gear.name, nodes, place=gear.place))
        self._air_gear(gear, Transducer.MICROPHONE, nodes, room)
        speaker = self._person(gear.part.speaker)
        for person, where in self.people.items():
            if where != room:
                continue
            if person == speaker:
                gain, distance = 0.0, self._working_distance(gear)
            else:
                distance, angle = self.distances.between(person, gear.name)
                level = SPEECH_DB_SPL + self._pickup(gear, distance, angle)
                gain = level - self._nominal(gear)
            self.draft.graph.through_air(
                mouth(self.draft, person),
                nodes,
                gain_db=gain,
                delay_ms=air_delay_ms(distance),
                place=gear.place,
            )

    def _working_distance(self, gear: Gear) -> float:
        if gear.part.distance is not None:
            return gear.part.distance.value
        speaker = gear.part.speaker
        if speaker is not None and self.distances.planned(speaker.value, gear.name):
            return self.distances.between(speaker.value, gear.name)[0]
        if speaker is not None:
            self.distances.assume(gear.name, speaker.value)
        return ASSUMED_M

    def _nominal(self, gear: Gear) -> float:
        """The sound level that is nominal at a microphone, in dB SPL."""
        return SPEECH_DB_SPL + distance_gain_db(self._working_distance(gear))

    def _pickup(self, gear: Gear, distance: float, angle: float) -> float:
        """What it takes up, re the direct sound at 1 m on its axis."""
        named = gear.profile.pattern
        pattern = Pattern(named) if named else UNKNOWN_PATTERN
        critical = self._beyond(self._room(gear))
        return pickup_gain_db(pattern, angle, distance, critical)

    def _picked_up(
        self,
        gear: Gear,
        nodes: tuple[int, ...],
        at_1_m: float,
        microphone: Gear,
        way: tuple[float, float],
    ) -> None:
        """Connect what sounds so loud at 1 m (dB SPL), from this distance and angle."""
        distance, angle = way
        level = at_1_m + self._pickup(microphone, distance, angle)
        self.draft.graph.through_air(
            nodes,
            lanes(self.draft, microphone, AIR),
            gain_db=level - self._nominal(microphone),
            delay_ms=air_delay_ms(distance),
            place=gear.place,
        )

    # Speakers

    def _speakers(self, gear: Gear) -> None:
        room, nodes = self._room(gear), lanes(self.draft, gear, AIR)
        self._air_gear(gear, Transducer.SPEAKERS, nodes, room)
        at_1_m = self._speaker_level(gear) - decibels(float(len(nodes)))
        for microphone in self.microphones:
            if self._room(microphone) != room:
                continue
            way = self.distances.between(gear.name, microphone.name)
            self._picked_up(gear, nodes, at_1_m, microphone, way)
        for person, where in self.people.items():
            if where == room:
                distance, _ = self.distances.between(gear.name, person)
                level = at_1_m + room_gain_db(distance, self._beyond(room))
                self.draft.graph.through_air(
                    nodes,
                    ears(self.draft, person),
                    gain_db=level - PASCAL_DB_SPL,
                    delay_ms=air_delay_ms(distance),
                    place=gear.place,
                )

    def _speaker_level(self, gear: Gear) -> float:
        """Direct sound at 1 m with nominal level on all lanes, in dB SPL.

        A meter at the listening distance reads direct and reverberant sound together,
        of a sound in the middle: all lanes play it, in step.
        """
        said = gear.part.listening_level
        if said is None:
            return PASCAL_DB_SPL
        if said.at is None:
            self.draft.notes.error(
                "missing-distance",
                f"{gear.name}: a listening level of speakers must say at what distance",
                said.place,
                cure=f"write {said.value:g} dB at 1 m, if it is meant at 1 m",
            )
            return said.value
        return said.value - room_gain_db(said.at, self._beyond(self._room(gear)))

    # Headphones

    def _wearer(self, gear: Gear) -> str | None:
        return self._person(gear.part.wearer)

    def _headphones(self, gear: Gear) -> None:
        wearer = self._wearer(gear) or ""
        room, nodes = self.people[wearer], lanes(self.draft, gear, EARS)
        self._air_gear(gear, Transducer.HEADPHONES, nodes, room)
        level = self._headphone_level(gear)
        for node, ear in zip(nodes, ears(self.draft, wearer), strict=False):
            self.draft.graph.through_air(
                (node,),
                (ear,),
                gain_db=level - PASCAL_DB_SPL,
                delay_ms=0.0,
                place=gear.place,
            )
        if gear.profile.leak is None:
            return
        loss, at = gear.profile.leak
        at_1_m = level - loss - distance_gain_db(at)
        for microphone in self.microphones:
            if self._room(microphone) == room:
                away = self._leak_distance(gear, wearer, microphone)
                self._picked_up(gear, nodes, at_1_m, microphone, (away, 0.0))

    def _headphone_level(self, gear: Gear) -> float:
        """Sound level at the ear with nominal level, in dB SPL."""
        said = gear.part.listening_level
        if said is not None and said.at is not None:
            self.draft.notes.error(
                "needless-distance",
                f"{gear.name}: the listening level of headphones is that at the ear",
                said.place,
                cure=f"write {said.value:g} dB, without a distance",
            )
        return said.value if said is not None else PASCAL_DB_SPL

    def _leak_distance(self, gear: Gear, wearer: str, microphone: Gear) -> float:
        """Whoever speaks into it has the ears behind the mouth, and beside it."""
        if not self.distances.said(gear.name, microphone.name):
            if self._person(microphone.part.speaker) == wearer:
                away = self._working_distance(microphone) + EAR_BEHIND_MOUTH_M
                return math.hypot(away, EAR_BESIDE_MOUTH_M)
            if self.distances.said(wearer, microphone.name):
                return self.distances.between(wearer, microphone.name)[0]
        return self.distances.between(gear.name, microphone.name)[0]

    # Both

    def _person(self, name: Text | None) -> str | None:
        """Return a person who is here, None for anybody else."""
        return name.value if name and name.value in self.people else None

    def _air_gear(
        self, gear: Gear, kind: Transducer, nodes: tuple[int, ...], room: str
    ) -> None:
        self.draft.air_gear.append(
            AirGear(gear.name, kind, nodes, room, self._beyond(room))
        )
