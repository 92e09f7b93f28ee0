"""From the YAML parser's events to a tree, every bound checked on the way.

Rules of this file: it alone knows the YAML library. A scalar stays the text that was
written. Depth and number are checked at each event, before anything is built from
it; what a parser would copy or construct (aliases, tags) is only noted. No exception
leaves.
"""

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import yaml

from bridge.core.finding import Finding, Place
from bridge.files import refusals
from bridge.files.tree import Listing, Node, Table, Text
from bridge.files.trouble import Trouble

# The format itself is 6 deep.
DEEPEST = 30
# As many as fit in the largest file at a dozen characters each.
MOST_NODES = 20_000

# The C parser is eight times as fast, and stops at the same places as the other.
_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_UNSEEN = re.compile(
    "[\x00-\x1f\x7f-\xa0\xad\u200b\u2028-\u202f\u2060\u2066-\u2069\ud800-\udfff\ufeff]"
)
_SLANTED = tuple("\u2018\u201a\u201c\u201d\u201e\u00ab\u00bb")


@dataclass(frozen=True, slots=True)
class Grown:
    """What came of some lines: the root (None if empty), and what was noted.

    trouble: where the parser stopped, if it did. full: whether a bound was reached.
    """

    root: Node | None
    found: tuple[Finding, ...]
    trouble: Trouble | None = None
    full: bool = False


def grow(lines: Sequence[str], first: int, end: int, name: str) -> Grown:
    """Read the lines from `first` up to `end` (from 0) as one document."""
    tree = _Tree(name, lines, first)
    try:
        root = tree.parse("\n".join(lines[first:end]))
    except yaml.MarkedYAMLError as error:
        trouble = _trouble(error, first)
        if "nesting" not in trouble.problem:
            return Grown(None, tuple(tree.found), trouble)
        # The C parser looks ahead, and may reach its own limit before ours is seen.
        place = Place(name, trouble.line + 1, trouble.column + 1, trouble.column + 2)
        deep = refusals.too_deep(DEEPEST, place)
        return Grown(None, (*tree.found, deep), full=True)
    except _FullError:
        return Grown(None, tuple(tree.found), full=True)
    return Grown(root, tuple(tree.found))


def again(entries: Sequence[tuple[Text, Node]]) -> Iterator[Finding]:
    """Yield a finding for every name that is there already."""
    first: dict[str, Place] = {}
    for key, _ in entries:
        if key.value in first:
            yield refusals.twice(key.value, key.place, first[key.value])
        first.setdefault(key.value, key.place)


class _FullError(Exception):
    """A bound is reached; its finding is noted."""


class _Tree:
    """Builds nodes from events, none deeper and no more than allowed."""

    def __init__(self, name: str, lines: Sequence[str], first: int) -> None:
        self.name = name
        self.lines = lines
        self.first = first
        self.found: list[Finding] = []
        self.nodes = 0
        self.signs: set[str] = set()
        self.events: Iterator[yaml.Event] = iter(())

    def parse(self, text: str) -> Node | None:
        """Return the root, or None if there is no content at all."""
        self.events = yaml.parse(text, Loader=_LOADER)
        root: Node | None = None
        for event in self.events:
            if not isinstance(event, yaml.DocumentStartEvent):
                continue
            if event.version or event.tags:
                self.found.append(refusals.no_directive(self._place(event)))
            if root is not None:
                self._full(refusals.one_document(self._place(event)))
            root = self._node(next(self.events), 1)
        if isinstance(root, Text) and not root.value and not root.quoted:
            return None
        return root

    def _node(self, event: yaml.Event, depth: int) -> Node:
        self.nodes += 1
        place = self._place(event)
        if depth > DEEPEST:
            self._full(refusals.too_deep(DEEPEST, place))
        if self.nodes > MOST_NODES:
            self._full(refusals.too_many(MOST_NODES, place))
        if isinstance(event, yaml.AliasEvent):
            self._alias(f"*{event.anchor}", place)
            return Text(f"*{event.anchor}", place)
        if isinstance(event, yaml.NodeEvent) and event.anchor:
            self._alias(f"&{event.anchor}", self._word("&", place))
        if isinstance(event, yaml.ScalarEvent | yaml.CollectionStartEvent):
            tag = [refusals.no_tag(self._word("!", place))] if event.tag else []
            self.found += tag
        if isinstance(event, yaml.ScalarEvent):
            return self._text(event, place)
        if isinstance(event, yaml.SequenceStartEvent):
            return self._listing(place, depth)
        braces = isinstance(event, yaml.MappingStartEvent) and bool(event.flow_style)
        return self._table(place, depth, braces=braces)

    def _text(self, event: yaml.ScalarEvent, place: Place) -> Text:
        value, quoted = event.value, bool(event.style)
        if event.style == "|":
            self.found.append(refusals.block_text(place))
        elif event.style == ">":
            value = " ".join(value.split())
        elif value and _spot(event.end_mark)[0] > _spot(event.start_mark)[0]:
            self.found += self._several_lines(event, place)
        elif not value.isprintable() and (odd := _UNSEEN.findall(value)):
            shown = dict.fromkeys(f"U+{ord(char):04X}" for char in odd)
            self.found.append(refusals.unseen(shown, place))
        elif not quoted and value.startswith(_SLANTED):
            self.found.append(refusals.slanted_quotes(place))
        return Text(unicodedata.normalize("NFC", value), place, quoted)

    def _several_lines(self, event: yaml.ScalarEvent, place: Place) -> list[Finding]:
        if event.style:
            start = Place(place.file, place.line, place.column, place.column + 1)
            return [refusals.quote_not_closed(start)]
        last = _spot(event.end_mark)[0] + self.first
        glued = [
            found
            for number in range(place.line, last + 2)
            if (found := self._glued(number))
        ]
        return glued or [refusals.goes_on(place)]

    def _glued(self, number: int) -> Finding | None:
        line = self.lines[number - 1]
        return refusals.colon_without_space(line, Place(self.name, number, 1, 1))

    def _alias(self, sign: str, place: Place) -> None:
        if sign not in self.signs:  # a bomb repeats a few of them, and often
            self.found.append(refusals.no_alias(sign, place))
        self.signs.add(sign)

    def _listing(self, place: Place, depth: int) -> Listing:
        items = []
        while not isinstance(event := next(self.events), yaml.SequenceEndEvent):
            items.append(self._node(event, depth + 1))
        return Listing(tuple(items), self._until(place, event))

    def _table(self, place: Place, depth: int, *, braces: bool) -> Table:
        entries: list[tuple[Text, Node]] = []
        while not isinstance(event := next(self.events), yaml.MappingEndEvent):
            key = self._node(event, depth + 1)
            value = self._node(next(self.events), depth + 1)
            wrong = self._wrong_entry(key, value)
            if wrong:
                self.found.append(wrong)
            elif isinstance(key, Text):
                entries.append((key, value))
        self.found += again(entries)
        if entries and not braces:
            return Table(tuple(entries), entries[0][0].place)
        return Table(tuple(entries), self._until(place, event))

    def _wrong_entry(self, key: Node, value: Node) -> Finding | None:
        ahead = self.lines[key.place.line - 1][: key.place.column - 1].rstrip()
        if ahead.endswith("?"):
            mark = Place(self.name, key.place.line, len(ahead), len(ahead) + 1)
            return refusals.reserved("?", mark)
        if not isinstance(key, Text):
            return refusals.not_a_name(key.place)
        if not key.value:
            return refusals.missing_name(key.place)
        if key.value == "<<" and not key.quoted:
            return refusals.no_merge(key.place)
        if not isinstance(value, Text) or value.quoted:
            return None
        # {room:dome} is a name without a value; so is `room:dome` below its owner.
        one_line = key.place.end_column - key.place.column == len(key.value)
        if not value.value and not key.quoted and one_line:
            return refusals.colon_without_space(key.value, key.place)
        if value.value and value.place.line > key.place.line:
            return self._glued(value.place.line)
        return None

    def _place(self, event: yaml.Event) -> Place:
        (line, column), (end, end_column) = map(
            _spot, (event.start_mark, event.end_mark)
        )
        if end != line:
            end_column = len(refusals.without_comment(self.lines[line + self.first]))
        return Place(
            self.name, line + self.first + 1, column + 1, max(column, end_column) + 1
        )

    def _until(self, start: Place, event: yaml.Event) -> Place:
        """Return the place from a bracket to its partner, if that is in its line."""
        end = self._place(event)
        if end.line != start.line or end.end_column <= start.end_column:
            return start
        return Place(self.name, start.line, start.column, end.end_column)

    def _word(self, sign: str, place: Place) -> Place:
        """Return the place of the word that begins with a sign, at or after a place."""
        line = self.lines[place.line - 1]
        start = max(line.find(sign, place.column - 1), place.column - 1)
        word = re.split(r"[\s,\]}]", line[start:], maxsplit=1)[0]
        return Place(self.name, place.line, start + 1, start + len(word) + 1)

    def _full(self, finding: Finding) -> None:
        self.found.append(finding)
        raise _FullError


def _trouble(error: yaml.MarkedYAMLError, first: int) -> Trouble:
    mark = error.problem_mark or error.context_mark
    line, column = _spot(mark)
    since_line, since_column = _spot(error.context_mark or mark)
    return Trouble(
        line=line + first,
        column=column,
        problem=error.problem or "",
        since_line=since_line + first,
        since_column=since_column,
        within=error.context or "",
    )


class _Mark(Protocol):
    @property
    def line(self) -> int: ...

    @property
    def column(self) -> int: ...


def _spot(mark: _Mark | None) -> tuple[int, int]:
    """Return line and column from 0; both parsers always give a mark."""
    return (mark.line, mark.column) if mark else (0, 0)
