"""YAML text in; out a tree that remembers where everything stands, or findings.

Strategy: the whole file is read at once. Only if the parser stops at a slip, each
entry is read again by itself, and so on inwards, so that one run names all slips.
No exception leaves: what is wrong comes back as findings.
"""

from collections.abc import Sequence

from bridge.core.finding import Finding, Place, in_file_order
from bridge.files import characters, mistakes, refusals
from bridge.files.events import DEEPEST, again, grow
from bridge.files.pieces import Piece, pieces
from bridge.files.tree import Listing, Node, Table, Text

# A studio with 500 scenes is 90 KiB; beyond three times that, somebody has chosen
# the wrong file, and a small board would need seconds to say so.
LARGEST_FILE = 256 * 1024
# More than anybody mends in one go; keeps a report readable.
MOST_FINDINGS = 50
# Reading again piece by piece after a slip costs about 50 us for each piece.
MOST_PIECES = 2_000


def read(data: bytes, name: str) -> Table | tuple[Finding, ...]:
    """Read one document; `name` is the file that every place will show.

    Returns the table, or everything that is wrong with it in the file's order.
    """
    if len(data) > LARGEST_FILE:
        top = Place(name, 1, 1, 1)
        return (refusals.too_large(len(data), LARGEST_FILE, top),)
    text, found = characters.clean(data, name)
    text, tab, sure = characters.tabs(text, name)
    reader = _Reader(name, text.split("\n"))
    root = reader.read()
    if isinstance(root, Table) and not (found or tab or reader.found):
        return root
    # What was put in place of an unreadable character is not the writer's slip.
    marred = {f.place.line for f in found if f.place and f.rule == "wrong-encoding"}
    more = [f for f in reader.found if not (f.place and f.place.line in marred)]
    if tab and tab.place and not sure:
        # How far a tab indents is anybody's guess, so what comes after it is too.
        more = [f for f in more if f.place and f.place.line < tab.place.line]
    every = in_file_order([*found, *([tab] if tab else ()), *more])
    if len(every) <= MOST_FINDINGS:
        return every
    return (*every[:MOST_FINDINGS], refusals.more_than_shown(MOST_FINDINGS))


class _Reader:
    """Reads a document whole, or, after a slip, every part of it that can be read."""

    def __init__(self, name: str, lines: Sequence[str]) -> None:
        self.name = name
        self.lines = lines
        self.found: list[Finding] = []
        self.pieces = 0
        self.full = False

    def read(self) -> Node | None:
        """Return the root, for what it is worth if there are findings."""
        every = Piece(0, len(self.lines), entry=True)
        root = self._span(every.first, every.end, 0)
        if isinstance(root, Text) and not root.quoted:
            self._not_an_entry(root, every, 0)
        elif root is not None and not isinstance(root, Table):
            self.found.append(refusals.not_a_table(root.place))
        elif root is None and not self.found:
            self.found.append(refusals.empty(Place(self.name, 1, 1, 1)))
        return root

    def _span(self, first: int, end: int, depth: int) -> Node | None:
        grown = grow(self.lines, first, end, self.name)
        self.full = self.full or grown.full
        if grown.trouble is None:
            self.found += grown.found
            return grown.root
        # Where texts end cannot be told in lines that do not fit together.
        self.found += (f for f in grown.found if f.rule != "text-goes-on")
        known = frozenset(self.found)
        finding = mistakes.explain(grown.trouble, self.lines, first, end, self.name)
        if depth < DEEPEST and finding.rule != "one-document":
            self._piecewise(first, end, depth)
        new = [found for found in self.found if found not in known]
        said = {found.place.line for found in new if found.place}
        if finding.place is None or finding.place.line not in said:
            self.found.append(finding)
        return None

    def _piecewise(self, first: int, end: int, depth: int) -> None:
        """Read each entry of a broken table or list by itself."""
        entries: list[tuple[Text, Node]] = []
        bare: list[tuple[Text, Piece]] = []
        in_list = False
        for piece in pieces(self.lines, first, end):
            self.pieces += 1
            if self._has_enough():
                break
            node = self._span(piece.first, piece.end, depth + 1)
            in_list = in_list or isinstance(node, Listing)
            if isinstance(node, Table):
                entries += node.entries
            elif isinstance(node, Text) and piece.entry and not node.quoted:
                bare.append((node, piece))
        for text, piece in bare:
            self._not_an_entry(text, piece, depth, in_list=in_list)
        self.found += again(entries)

    def _has_enough(self) -> bool:
        many = self.pieces > MOST_PIECES or len(self.found) > MOST_FINDINGS
        return self.full or many

    def _not_an_entry(
        self, text: Text, piece: Piece, depth: int, *, in_list: bool = False
    ) -> None:
        """A line has no colon (in a list no dash); what is below it may be sound."""
        here = [f for f in self.found if f.place == text.place]
        goes_on = [f for f in here if f.rule == "text-goes-on"]
        line = self.lines[text.place.line - 1]
        self.found.append(
            refusals.missing_dash(text.place)
            if in_list
            else refusals.no_colon(line, text.place)
        )
        if goes_on and depth < DEEPEST:
            self.found = [f for f in self.found if f not in goes_on]
            self._piecewise(piece.first, piece.end, depth + 1)
