"""How far apart things are: `speakers to mic: 1.2 m at 130 deg`, or from the plan."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.files.lines import split
from bridge.files.shapes import unknown_name
from bridge.files.studio_draft import Draft
from bridge.files.studio_plan import Plan
from bridge.files.tree import Text

ASSUMED_M = 1.0
"""The distance of two things in one room where the file gives none."""

Pair = frozenset[str]


class Distances:
    """The distances of the file; counts which were used and which had to be assumed.

    broken: something that shares a room with something is wrong; then nothing is said
        of what was assumed or not used.
    ears_of: the people who are here. makers: speakers and headphones.
    """

    def __init__(
        self,
        draft: Draft,
        *,
        ears_of: tuple[str, ...],
        makers: tuple[str, ...],
        microphones: tuple[str, ...],
    ) -> None:
        self.draft = draft
        self.people = ears_of
        self.microphones = microphones
        self.known = (*ears_of, *makers, *microphones)
        self._said: dict[Pair, tuple[float, float, Place]] = {}
        self._unread: set[Pair] = set()
        self._used: set[Pair] = set()
        self._assumed: dict[str, dict[str, None]] = {}
        self.broken = draft.incomplete
        self._plan = Plan(draft)
        self._read()

    def said(self, one: str, other: str) -> bool:
        """Return whether the file gives this distance, in words or by its plan."""
        return frozenset((one, other)) in self._said or self.planned(one, other)

    def planned(self, one: str, other: str) -> bool:
        """Return whether this distance follows from the plan."""
        return self._plan.knows(one, other)

    def between(self, one: str, other: str) -> tuple[float, float]:
        """Return the distance in m and the angle off the microphone's axis."""
        pair = frozenset((one, other))
        self._used.add(pair)
        if pair in self._said:
            distance, angle, _ = self._said[pair]
            return distance, angle
        if self._plan.knows(one, other):
            axis_of = one if one in self.microphones else other
            planned = self._plan.between(one, other, axis_of)
            return planned or (ASSUMED_M, 0.0)
        self.assume(one, other)
        return ASSUMED_M, 0.0

    def assume(self, one: str, other: str) -> None:
        """Remember that a distance is not given."""
        if frozenset((one, other)) not in self._unread:
            self._assumed.setdefault(one, {})[other] = None

    def finish(self) -> None:
        """Say what was assumed, and what was given for nothing."""
        if self.broken:
            return
        places = {e.name.value: e.name.place for e in self.draft.part.gear}
        places |= {e.name.value: e.name.place for e in self.draft.part.people}
        for one, others in self._assumed.items():
            listed = " and ".join(others)
            self.draft.notes.advice(
                "assumed",
                f"{one}: no distance to {listed} is given, {ASSUMED_M:g} m is assumed",
                places.get(one),
                note="how loud one is at the other follows from it",
                cure=_cure(one, next(iter(others)), self.microphones),
            )
        for pair, (_, _, place) in self._said.items():
            if pair not in self._used:
                self.draft.notes.error(
                    "needless-distance",
                    f"{' and '.join(sorted(pair))} do not hear each other",
                    place,
                    note="a distance is for two things that are in one room",
                    cure="leave the line out, or look at the rooms",
                )

    def _read(self) -> None:
        for entry in self.draft.part.distances:
            pair = self._pair(entry.name)
            if pair is None:
                continue
            if entry.part is None:  # a mistake that is told already
                self._unread.add(pair)
                continue
            if pair in self._said:
                self.draft.notes.error(
                    "name-twice",
                    f"the distance of {' and '.join(sorted(pair))} is given twice",
                    entry.name.place,
                    note=f"first in line {self._said[pair][2].line}",
                    cure="leave one of them out",
                )
            if self._plan.knows(*pair):
                self.draft.notes.error(
                    "distance-said-twice",
                    f"where {' and '.join(sorted(pair))} stand is on the plan already",
                    entry.name.place,
                    note="their distance follows from at:",
                    cure="leave this line out, or one of the two at:",
                )
            distance, angle = entry.part.value, entry.part.at
            if angle is not None and not pair & set(self.microphones):
                self.draft.notes.error(
                    "needless-angle",
                    "an angle is one off the axis of a microphone",
                    entry.name.place,
                    cure="leave the angle out",
                )
            self._said[pair] = distance, angle or 0.0, entry.name.place

    def _pair(self, name: Text) -> Pair | None:
        """Cut "speakers to mic" at the "to" that leaves two known names."""
        words = split(name, "to")
        for cut in range(1, len(words)):
            one = " to ".join(word.value for word in words[:cut])
            other = " to ".join(word.value for word in words[cut:])
            if one in self.known and other in self.known and one != other:
                return frozenset((one, other))
        if len(words) == 2 and not self.draft.incomplete:
            for word in words:
                if word.value not in self.known:
                    unknown_name(
                        self.draft.notes,
                        "unknown-name",
                        "the name",
                        word.value,
                        word.place,
                        self.known,
                    )
        elif len(words) != 2:
            self.draft.notes.error(
                "line-not-understood",
                f'"{name.value}" must be two names with "to" between them',
                name.place,
                cure="write it like speakers to mic: 1.2 m at 130 deg",
            )
        return None


def _cure(one: str, other: str, microphones: tuple[str, ...]) -> str:
    if one in microphones:
        return f'measure it, and add "distance: 0.15 m" to {one}'
    angle = " at 130 deg" if other in microphones else ""
    return f'measure it, and add "{one} to {other}: 1.2 m{angle}" to distances:'
