"""Scenes: from names and words to a value for each control.

Strategy: a scene is read in the order copy, everything, then its own lines. Its own
lines must not contradict each other; what it copied they may change. What is set by
hand is written in the same way, once for the studio, as it is when the show begins.
A scene that wants it otherwise has a step by hand; see `studio_hands`.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field

from bridge.core.control import Kind, Reach, Scene
from bridge.core.finding import Place
from bridge.core.wire import Value
from bridge.files.shapes import Entry, Later, unknown_name, wrong
from bridge.files.studio_draft import Draft
from bridge.files.studio_hands import sort_hands
from bridge.files.studio_intents import HEARS, LISTENING_ON, Wanted
from bridge.files.studio_names import ControlNames
from bridge.files.studio_settings import COPY, EVERYTHING, SceneLines, Set
from bridge.files.tree import Node, Table, Text

MOST_COPIES = 50
"""How long a chain of from: may be; people can follow three, the machine hundreds."""


@dataclass(slots=True)
class Scenes:
    """The scenes that were read.

    by_hand: the values of hand controls. levels: each level that is set anywhere.
    helpers: what a control may be set to for a moment.
    wanted: the scenes that say who should hear what; their settings are not known yet.
    """

    scenes: dict[str, Scene] = field(default_factory=dict)
    by_hand: dict[str, Value] = field(default_factory=dict)
    levels: dict[str, dict[float, Place]] = field(default_factory=dict)
    wanted: dict[str, Wanted] = field(default_factory=dict)
    helpers: tuple[tuple[str, Value], ...] = ()


def read_scenes(draft: Draft, names: ControlNames) -> Scenes:
    """Read what is set by hand, then every scene; notes what is wrong."""
    return _Reader(draft, names).read()


class _Reader:
    """All scenes of one studio."""

    def __init__(self, draft: Draft, names: ControlNames) -> None:
        self.draft = draft
        self.notes = draft.notes
        self.names = names
        self.lines = SceneLines(draft, names)
        self.made = Scenes(by_hand=self.lines.by_hand, levels=self.lines.levels)
        self.entries: dict[str, Entry[Later]] = {
            entry.name.value: entry for entry in draft.part.scenes
        }
        self._is_told = False  # that something is wrong under by hand:

    def read(self) -> Scenes:
        """Return the scenes that are whole."""
        self._by_hand()
        self._helpers()
        order: dict[str, dict[str, Value] | None] = {}
        for name in self.entries:
            self._values(name, order, ())
        for name, entry in self.entries.items():
            values = order.get(name)
            if values is not None:
                self.made.scenes[name] = Scene(name, values, entry.name.place)
        self._unsaid()
        given = [one.given for one in self.made.wanted.values()]
        controls = self.names.controls.items()
        hands = {name for name, one in controls if one.type.reach is Reach.HAND}
        sort_hands(self.made.scenes, given, self.made.by_hand, hands)
        return self.made

    # What is set by hand

    def _by_hand(self) -> None:
        part = self.draft.part.by_hand
        if part is None:
            return
        before = len(self.notes.findings)
        lines = self.lines.read(part.node, by_hand=True)
        self._is_told = len(self.notes.findings) > before
        for one in lines:
            if one.known.type.reach is Reach.HAND:
                self.made.by_hand[one.known.name] = one.value
                continue
            self.notes.error(
                "not-by-hand",
                f"{one.known.label} is not set by hand",
                one.place,
                cure="set it in scenes:"
                if one.known.type.reach is Reach.REMOTE
                else "leave it out: it has one value only",
            )

    def _helpers(self) -> None:
        part = self.draft.part.helpers
        if part is not None:
            lines = self.lines.read(part.node, by_hand=False)
            self.made.helpers = self._remote(lines)

    def _remote(self, lines: Collection[Set]) -> tuple[tuple[str, Value], ...]:
        """The helpers: for a moment, so no hand can be one."""
        remote = [one for one in lines if one.known.type.reach is Reach.REMOTE]
        for one in lines:
            if one not in remote:
                self.notes.error(
                    "not-remote",
                    f"{one.known.label} is set by hand: it cannot help for a moment",
                    one.place,
                    cure="leave it out of helpers:",
                )
        return tuple((one.known.name, one.value) for one in remote)

    def _unsaid(self) -> None:
        """Say which hand controls nobody has said anything about."""
        if self.draft.incomplete or self._is_told:
            return
        for gear in self.draft.gear.values():
            unsaid = [
                known.label
                for known in self.names.controls.values()
                if known.gear is gear
                and known.type.reach is Reach.HAND
                and known.name not in self.made.by_hand
                and not any(known.name in s.values for s in self.made.scenes.values())
            ]
            if unsaid:
                self.notes.advice(
                    "hand-unsaid",
                    f"{gear.name}: nobody says how {unsaid[0]} is set"
                    + (f", nor {len(unsaid) - 1} others" if len(unsaid) > 1 else ""),
                    gear.place,
                    note="what is set by hand is taken as unknown until it is said",
                    cure=f'add "{unsaid[0]}: off"'
                    + (" and the others" if len(unsaid) > 1 else "")
                    + " to by hand:",
                )

    # Scenes

    def _values(
        self,
        name: str,
        order: dict[str, dict[str, Value] | None],
        above: tuple[str, ...],
    ) -> dict[str, Value] | None:
        """Return all that a scene sets, its copies first; None if that is broken."""
        if name in order:
            return order[name]
        later = self.entries[name].part
        node = later.node if later else None
        values: dict[str, Value] | None = {}
        if isinstance(node, Text) and not node.value:
            node = Table((), node.place)
        if not isinstance(node, Table):
            if node is not None:
                wrong(self.notes, node, "a table: controls with their values")
            order[name] = None
            return None
        copy = node.get(COPY)
        if copy is not None:
            values = self._copied(name, copy, order, (*above, name))
        own = self.lines.read(node, by_hand=False)
        if values is not None:
            values = dict(values)
            if node.get(EVERYTHING) is not None:
                values |= self._everything_off()
            values |= {one.known.name: one.value for one in own}
        hears = node.get(HEARS)
        if hears is not None and values is not None:
            place = self.entries[name].name.place
            on = node.get(LISTENING_ON)
            self.made.wanted[name] = Wanted(hears, on, values, place)
            values = None
        order[name] = values
        return values

    def _copied(
        self,
        name: str,
        copy: Node,
        order: dict[str, dict[str, Value] | None],
        above: tuple[str, ...],
    ) -> dict[str, Value] | None:
        if not isinstance(copy, Text):
            wrong(self.notes, copy, "the name of one scene")
            return None
        if copy.value not in self.entries:
            others = [other for other in self.entries if other != name]
            unknown_name(
                self.notes,
                "unknown-scene",
                "the scene",
                copy.value,
                copy.place,
                others,
            )
            return None
        if self._says_hears(copy.value):
            self.notes.error(
                "copy-of-intent",
                f'"{copy.value}" says who hears what: it cannot be copied',
                copy.place,
                cure="say hears: in this scene too",
            )
            return None
        if len(above) > MOST_COPIES:
            self.notes.error(
                "too-deep",
                f"a scene must be a copy of a copy at most {MOST_COPIES} times",
                copy.place,
                cure="copy from a scene that is nearer to the first",
            )
            return None
        if copy.value in above:
            circle = [*above[above.index(copy.value) :], copy.value]
            self.notes.error(
                "scene-in-circle",
                f'the scene "{name}" copies itself: {" from ".join(circle)}',
                copy.place,
                cure="take one of these from: out",
            )
            return None
        return self._values(copy.value, order, above)

    def _says_hears(self, name: str) -> bool:
        later = self.entries[name].part
        node = later.node if later else None
        return isinstance(node, Table) and node.get(HEARS) is not None

    def _everything_off(self) -> dict[str, Value]:
        """Every switch off, and what is no switch as after power-up.

        A level without a value that its gear guarantees then is at its quietest; a
        selector without one stays as it is, since no position of it is an "off".
        """
        values: dict[str, Value] = {}
        for name, known in self.names.controls.items():
            control = known.type
            if control.reach is not Reach.REMOTE:
                continue
            if control.kind is Kind.SWITCH:
                values[name] = False
            elif control.at_power_up is not None:
                values[name] = control.at_power_up
            elif control.kind is Kind.LEVEL:
                values[name] = control.values[0]
        return values
