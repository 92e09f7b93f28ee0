"""YAML text in; out a tree that remembers where everything stands, or findings.

Rules of this file: it alone knows the YAML library. A scalar stays the text that was
written. Every bound is checked while events arrive, before anything is built from
them. No exception leaves: what is wrong comes back as findings, all of them at once.
"""

import re
import unicodedata
from collections.abc import Iterator, Sequence
from typing import Protocol

import yaml

from bridge.core.finding import Finding, Place, in_file_order
from bridge.files import characters, mistakes, refusals
from bridge.files.pieces import pieces
from bridge.files.tree import Listing, Node, Table, Text

# A studio with 500 scenes is 90 KiB; beyond three times that, somebody has chosen
# the wrong file, and a small board would need seconds to say so.
LARGEST_FILE = 256 * 1024
# The format itself is 6 deep.
DEEPEST = 30
# As many as fit in the largest file at a dozen characters each.
MOST_NODES = 20_000
# More than anybody mends in one go; keeps a report readable.
MOST_FINDINGS = 50
# Reading again piece by piece after a slip costs about 50 us for each piece.
MOST_PIECES = 2_000

# The C parser is eight times as fast, and stops at the same places as the other.
_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_UNSEEN = re.compile(
    "[\x00-\x1f\x7f-\xa0\xad\u200b\u2028-\u202f\u2060\u2066-\u2069\ud800-\udfff\ufeff]"
)
_SLANTED = tuple("\u2018\u201a\u201c\u201d\u201e\u00ab\u00bb")


def read(data: bytes, name: str) -> Table | tuple[Finding, ...]:
    """Read one document; `name` is the file that every place will show.

    Returns the table, or everything that is wrong with it in the file's order.
    """
    if len(data) > LARGEST_FILE:
        top = Place(name, 1, 1, 1)
        return (refusals.too_large(len(data), LARGEST_FILE, top),)
    text, found = characters.clean(data, name)
    text, tab, sure = characters.tabs(text, name)
    reader = _Reader(name, text.split("\n"), [*found, *([tab] if tab else [])])
    root = reader.read() if sure else None
    if isinstance(root, Table) and not reader.found:
        return root
    return in_file_order(reader.found)[:MOST_FINDINGS]


class _GiveUpError(Exception):
    """A bound is reached; its finding is noted."""


class _Reader:
    """Reads a document whole, or, after a slip, every part of it that can be read."""

    def __init__(self, name: str, lines: Sequence[str], found: list[Finding]) -> None:
        self.name = name
        self.lines = lines
        self.found = found
        self.pieces = 0

    def read(self) -> Node | None:
        """Return the root, for what it is worth if there are findings."""
        try:
            root = self._span(0, len(self.lines), 0)
        except _GiveUpError:
            return None
        top = Place(self.name, 1, 1, 1)
        if self.found or isinstance(root, Table):
            return root
        if root is None:
            self.found.append(refusals.empty(top))
        elif isinstance(root, Text) and not root.quoted:
            self.found.append(self._no_colon(root))
        else:
            self.found.append(refusals.not_a_table(root.place))
        return None

    def _span(self, first: int, end: int, depth: int) -> Node | None:
        tree = _Tree(self.name, self.lines, first)
        try:
            root = tree.parse("\n".join(self.lines[first:end]))
        except yaml.MarkedYAMLError as error:
            trouble = _trouble(error, first)
            # Where texts end cannot be told in lines that do not fit together.
            self.found += (f for f in tree.found if f.rule != "text-goes-on")
        except _GiveUpError:
            self.found += tree.found
            raise
        else:
            self.found += tree.found
            return root
        finding = mistakes.explain(trouble, self.lines, first, self.name)
        known = len(self.found)
        if not trouble.in_brackets and depth < DEEPEST:
            self._piecewise(first, end, depth)
        said = {found.place.line for found in self.found[known:] if found.place}
        if finding.place is None or finding.place.line not in said:
            self.found.append(finding)
        return None

    def _piecewise(self, first: int, end: int, depth: int) -> None:
        """Read each entry of a broken table or list by itself."""
        entries: list[tuple[Text, Node]] = []
        for piece in pieces(self.lines, first, end):
            self.pieces += 1
            if self.pieces > MOST_PIECES or len(self.found) > MOST_FINDINGS:
                return
            node = self._span(piece.first, piece.end, depth + 1)
            if isinstance(node, Table):
                entries += node.entries
            elif isinstance(node, Text) and piece.entry and not node.quoted:
                self.found.append(self._no_colon(node))
        self.found += _again(entries)

    def _no_colon(self, text: Text) -> Finding:
        return refusals.no_colon(self.lines[text.place.line - 1], text.place)


class _Tree:
    """Builds nodes from events, none deeper and no more than allowed."""

    def __init__(self, name: str, lines: Sequence[str], first: int) -> None:
        self.name = name
        self.lines = lines
        self.first = first
        self.found: list[Finding] = []
        self.nodes = 0
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
                self._give_up(refusals.one_document(self._place(event)))
            root = self._node(next(self.events), 1)
        if isinstance(root, Text) and not root.value and not root.quoted:
            return None
        return root

    def _node(self, event: yaml.Event, depth: int) -> Node:
        self.nodes += 1
        place = self._place(event)
        if depth > DEEPEST:
            self._give_up(refusals.too_deep(DEEPEST, place))
        if self.nodes > MOST_NODES:
            self._give_up(refusals.too_many(MOST_NODES, place))
        match event:
            case yaml.AliasEvent(anchor=anchor):
                self.found.append(refusals.no_alias(f"*{anchor}", place))
            case yaml.NodeEvent(anchor=str(anchor)):
                self.found.append(refusals.no_alias(f"&{anchor}", place))
            case yaml.ScalarEvent(tag=str()) | yaml.CollectionStartEvent(tag=str()):
                self.found.append(refusals.no_tag(place))
        match event:
            case yaml.ScalarEvent():
                return self._text(event, place)
            case yaml.SequenceStartEvent():
                return self._listing(place, depth)
            case yaml.MappingStartEvent():
                return self._table(place, depth, braces=bool(event.flow_style))
            case _:  # an alias: the parser sends nothing else where a node begins
                return Text("", place)

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

    def _listing(self, place: Place, depth: int) -> Listing:
        items = []
        while not isinstance(event := next(self.events), yaml.SequenceEndEvent):
            items.append(self._node(event, depth + 1))
        return Listing(tuple(items), place)

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
        self.found += _again(entries)
        if entries and not braces:
            place = entries[0][0].place
        return Table(tuple(entries), place)

    def _wrong_entry(self, key: Node, value: Node) -> Finding | None:
        if not isinstance(key, Text):
            return refusals.not_a_name(key.place)
        if not key.value:
            return refusals.missing_name(key.place)
        if key.value == "<<" and not key.quoted:
            return refusals.no_merge(key.place)
        if not isinstance(value, Text) or value.quoted:
            return None
        # {room:dome} is a name without a value; so is `room:dome` below its owner.
        if not value.value and not key.quoted:
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

    def _give_up(self, finding: Finding) -> None:
        self.found.append(finding)
        raise _GiveUpError


def _again(entries: Sequence[tuple[Text, Node]]) -> Iterator[Finding]:
    """Yield a finding for every name that is there already."""
    first: dict[str, Place] = {}
    for key, _ in entries:
        if key.value in first:
            yield refusals.twice(key.value, key.place, first[key.value])
        first.setdefault(key.value, key.place)


def _trouble(error: yaml.MarkedYAMLError, first: int) -> mistakes.Trouble:
    mark = error.problem_mark or error.context_mark
    line, column = _spot(mark)
    since_line, since_column = _spot(error.context_mark or mark)
    return mistakes.Trouble(
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
