"""Reading YAML: the tree, and what is said about every slip.

Outside facts: the same library's BaseLoader, which keeps every scalar a text, is the
oracle for what is valid; the slips that must not pass silently (last duplicate wins,
`on` becomes True, 010 becomes 8, an alias bomb) are those of YAML 1.1 itself
(yaml.org/type/bool.html, int.html, merge.html).
"""

import itertools
import unicodedata
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.finding import Finding, Place
from bridge.faces.report import render
from bridge.files import events, marks
from bridge.files.characters import text_of
from bridge.files.marks import LARGEST_FILE, MOST_FINDINGS, read
from bridge.files.tree import Listing, Node, Table, Text

BROKEN = Path(__file__).resolve().parents[1] / "broken" / "reading"
SLIPS = sorted(BROKEN.glob("*.yaml"))

STUDIO = """\
studio: Hilltop observatory, Friday show   # said at the top

people:
  presenter:  {room: dome}
  astronomer: {room: far away, round trip: 180 ms, echo return loss: 30 dB}
feeds:
  stream: {}
gear:
  desk: {profile: desk-control-change, port: "Desk MIDI 1"}
  laptop:
    plays: {astronomer: pair 1, jingles: pair 2}
patch:
  - mic.out               -> desk.in 1
  - laptop.pair 1         -> desk.in 5/6      # the call
scenes:
  start: {everything: off}
  remote call: {from: phones, program: [mic, jingles]}
  about: >
    one long text
    in two lines
  nothing:
"""


def table(text: str | bytes) -> Table:
    """Read what must be sound."""
    data = text.encode() if isinstance(text, str) else text
    root = read(data, "studio.yaml")
    assert isinstance(root, Table), root
    return root


def findings(text: str | bytes) -> tuple[Finding, ...]:
    """Read what must be broken."""
    data = text.encode() if isinstance(text, str) else text
    found = read(data, "studio.yaml")
    assert isinstance(found, tuple)
    assert found
    return found


def as_data(node: Node) -> Any:
    """Turn a tree into what a YAML library would return."""
    match node:
        case Text(value=value):
            return value
        case Listing(items=items):
            return [as_data(item) for item in items]
        case Table(entries=entries):
            return {key.value: as_data(child) for key, child in entries}


def base_loaded(text: str) -> Any:
    return yaml.load(text, Loader=yaml.BaseLoader)


# What is sound


def test_a_studio_reads_as_the_library_reads_it_with_texts_only() -> None:
    expected = base_loaded(STUDIO)
    expected["scenes"]["about"] = "one long text in two lines"
    assert as_data(table(STUDIO)) == expected


def test_every_scalar_stays_the_text_that_was_written() -> None:
    text = "a: off\nb: yes\nc: 010\nd: 1:30\ne: 180 ms\nf: -10 dBV\ng: ~\nh: .inf\n"
    assert list(as_data(table(text)).values()) == (
        ["off", "yes", "010", "1:30", "180 ms", "-10 dBV", "~", ".inf"]
    )


def test_a_key_that_yaml_would_take_for_a_boolean_stays_a_text() -> None:
    assert [key.value for key, _ in table("on: a\nno: b\n1: c\n")] == ["on", "no", "1"]


def test_a_value_knows_file_line_and_columns() -> None:
    root = table(STUDIO)
    people = root.get("people")
    assert isinstance(people, Table)
    astronomer = people.get("astronomer")
    assert isinstance(astronomer, Table)
    assert astronomer.place == Place("studio.yaml", 5, 15, 76)
    trip = astronomer.get("round trip")
    assert isinstance(trip, Text)
    assert trip.place == Place("studio.yaml", 5, 44, 50)
    line = STUDIO.splitlines()[4]
    assert line[trip.place.column - 1 : trip.place.end_column - 1] == "180 ms"


def test_a_part_of_a_text_has_its_own_place() -> None:
    plain = table("- mic.out -> desk.in 9".replace("- ", "patch: ", 1)).get("patch")
    assert isinstance(plain, Text)
    start = plain.value.index("desk.in 9")
    assert plain.part(start, start + 9) == Place("studio.yaml", 1, 19, 28)
    quoted = table('port: "Desk MIDI 1"').get("port")
    assert isinstance(quoted, Text)
    assert quoted.quoted
    assert quoted.part(0, 4) == Place("studio.yaml", 1, 8, 12)


def test_a_part_that_cannot_be_told_is_the_whole() -> None:
    text = table('port: "Desk \\x4DIDI"').get("port")
    assert isinstance(text, Text)
    assert text.value == "Desk MIDI"
    assert text.part(0, 4) == text.place


def test_columns_count_characters_not_bytes_or_cells() -> None:
    node = table("天文: {部屋: 😀 dome}").get("天文")
    assert isinstance(node, Table)
    room = node.get("部屋")
    assert isinstance(room, Text)
    assert room.place == Place("studio.yaml", 1, 10, 16)


def test_the_same_letter_written_in_two_ways_is_the_same_name() -> None:
    composed, apart = "caf\u00e9", "cafe\u0301"
    assert unicodedata.normalize("NFC", apart) == composed
    assert [f.rule for f in findings(f"{composed}: a\n{apart}: b\n")] == ["name-twice"]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_of_every_system_count_alike(end: str) -> None:
    root = table(STUDIO.replace("\n", end))
    assert as_data(root) == as_data(table(STUDIO))
    key = root.key("scenes")
    assert key is not None
    assert key.place.line == 15


def test_a_byte_order_mark_of_utf_8_is_no_part_of_the_text() -> None:
    root = table(b"\xef\xbb\xbfstudio: Hilltop\n")
    assert root.entries[0][0] == Text("studio", Place("studio.yaml", 1, 1, 7))


def test_tables_and_listings_can_be_walked_and_asked() -> None:
    root = table("patch: [a -> b, c -> d]\nfeeds: {}\n")
    assert [str(key) for key, _ in root] == ["patch", "feeds"]
    assert len(root) == 2
    patch = root.get("patch")
    assert isinstance(patch, Listing)
    assert [str(item) for item in patch] == ["a -> b", "c -> d"]
    assert len(patch) == 2
    assert patch.place == Place("studio.yaml", 1, 8, 24)
    assert root.get("scenes") is None
    assert root.key("scenes") is None


def test_nothing_written_is_an_empty_text_in_its_place() -> None:
    nothing = table("feeds:   # none yet\ngear: {}\n").get("feeds")
    assert nothing == Text("", Place("studio.yaml", 1, 7, 7))


WORDS = st.text("abcdefghijkl mn-/.é天", min_size=1, max_size=12)
DATA = st.dictionaries(
    WORDS,
    st.recursive(
        WORDS | st.sampled_from(["on", "010", "~", "1e3", "it's", '"', "#", "a: b"]),
        lambda inner: (
            st.lists(inner, max_size=4) | st.dictionaries(WORDS, inner, max_size=4)
        ),
        max_leaves=12,
    ),
    min_size=1,
    max_size=5,
)


@given(DATA, st.booleans(), st.integers(2, 6))
def test_what_the_library_writes_we_read_as_it_does(
    data: dict[str, Any], flow: bool, indent: int
) -> None:
    text = yaml.safe_dump(
        data, default_flow_style=flow, indent=indent, width=10_000, allow_unicode=True
    )
    assert as_data(table(text)) == base_loaded(text)


# What is broken


def report(path: Path) -> str:
    data = path.read_bytes()
    found = read(data, path.name)
    assert isinstance(found, tuple)
    return render(found, {path.name: text_of(data)})


@pytest.mark.parametrize("path", SLIPS, ids=lambda path: path.stem)
def test_a_slip_is_reported_word_for_word(path: Path) -> None:
    assert report(path) == path.with_suffix(".txt").read_text("utf-8")


def test_every_report_belongs_to_a_slip() -> None:
    assert len(SLIPS) > 20
    assert {p.stem for p in SLIPS} == {p.stem for p in BROKEN.glob("*.txt")}


# The slower parser takes {a:[b]} for {a: [b]}, as later YAML does.
ALIKE = [path for path in SLIPS if path.stem != "colon-before-bracket"]


@pytest.mark.parametrize("path", ALIKE, ids=lambda path: path.stem)
def test_both_parsers_of_the_library_lead_to_the_same_report(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(events, "_LOADER", yaml.SafeLoader)
    assert report(path) == path.with_suffix(".txt").read_text("utf-8")


def rules(text: str | bytes) -> list[tuple[str, int]]:
    return [(f.rule, f.place.line if f.place else 0) for f in findings(text)]


def test_utf_16_is_named_and_the_rest_is_still_read() -> None:
    text = "studio: Hilltop\nfeeds: {}\nfeeds: {}\n"
    for data in (text.encode("utf-16"), text.encode("utf-16-be")):
        assert rules(data) == [("wrong-encoding", 1), ("name-twice", 3)]
        assert text_of(data) == text


def test_an_older_encoding_is_named_with_the_letter_that_was_meant() -> None:
    (found,) = findings("studio: Montagne\nroom: caf\u00e9\n".encode("windows-1252"))
    assert found == Finding(
        "wrong-encoding",
        "this file must be saved as UTF-8, but here stands the byte E9",
        Place("studio.yaml", 2, 10, 11),
        note="in the older encoding Windows-1252 it would be \u00e9",
        cure='in the editor, save the file again and choose the encoding "UTF-8"',
    )


@pytest.mark.parametrize(
    "char", ["\x00", "\x07", "\x1b", "\x7f", "\x85", "\u2028", "\u202e", "\u2066"]
)
def test_a_character_that_steers_or_hides_is_found(char: str) -> None:
    found = findings(f"studio: Hill{char}top\nfeeds: {{}}\nfeeds: {{}}\n")
    assert [f.rule for f in found] == ["control-character", "name-twice"]
    assert found[0].place == Place("studio.yaml", 1, 13, 14)
    assert f"U+{ord(char):04X}" in found[0].message


@pytest.mark.parametrize("char", ["\u00a0", "\u200b", "\ufeff", "\u3000", "\u00ad"])
def test_a_blank_that_only_looks_like_a_space_is_found(char: str) -> None:
    found = findings(f"studio: Hill{char}top\n")
    assert [f.rule for f in found] == ["odd-space"]
    assert found[0].place == Place("studio.yaml", 1, 13, 14)


def test_a_blank_of_another_kind_in_a_comment_harms_nobody() -> None:
    assert as_data(table("studio: a  # 180\u00a0ms\n")) == {"studio": "a"}


def test_writing_that_needs_joiners_is_let_through() -> None:
    name = "\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645"
    assert [key.value for key, _ in table(f"{name}: a\n")] == [name]


def test_a_file_over_the_limit_is_not_even_parsed() -> None:
    line = b"a: b  # b\n"
    data = line * (LARGEST_FILE // len(line) + 1)
    (found,) = findings(data)
    assert found.rule == "file-too-large"
    assert found.message == "a file must have at most 256 KiB, got 257 KiB"


def test_more_names_than_a_studio_has_are_refused() -> None:
    (found,) = findings("a: [" + "b, " * 20_001 + "]\n")
    assert found.rule == "file-too-large"
    assert found.message == "a file must have at most 20000 names and values"


@pytest.mark.parametrize("bracket", ["[", "{", "- ", "[{a: "])
def test_depth_is_refused_before_it_costs_anything(bracket: str) -> None:
    assert "too-deep" in [f.rule for f in findings("a:\n " + bracket * 5_000)]


@pytest.mark.parametrize("bracket", ["[", "{"])
def test_depth_is_refused_although_the_parser_looks_ahead(bracket: str) -> None:
    (found,) = findings(bracket * 5_000)
    assert found.rule == "too-deep"
    assert found.message == "tables and lists must be at most 30 deep in each other"


def test_a_name_beyond_the_limit_of_the_format_is_named() -> None:
    (found,) = findings("x" * 1_100 + ": a\n")
    assert found.rule == "name-too-long"


def test_a_tab_after_a_colon_is_named_where_the_parser_stops_at_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert as_data(table("a:\tb\n")) == {"a": "b"}
    monkeypatch.setattr(events, "_LOADER", yaml.SafeLoader)
    (found,) = findings("a:\tb\n")
    assert (found.rule, found.place) == (
        "tab-indentation",
        Place("studio.yaml", 1, 3, 4),
    )


def test_thirty_levels_are_read() -> None:
    assert as_data(table("a: " + "[" * 29 + "]" * 29))["a"] != ""
    assert rules("a: " + "[" * 30 + "]" * 30) == [("too-deep", 1)]


def test_an_alias_bomb_is_refused_without_expanding_it() -> None:
    lines = ["a: &a [x, x, x, x, x, x, x, x, x]"]
    for before, name in itertools.pairwise("abcdefghij"):
        lines.append(f"{name}: &{name} [{', '.join([f'*{before}'] * 9)}]")
    found = findings("\n".join(lines))
    assert {f.rule for f in found} == {"no-alias"}
    assert len(found) == 10 + 9


def test_a_report_has_an_end() -> None:
    found = findings("a: b: c\n" * 1_000)
    assert len(found) == MOST_FINDINGS + 1
    assert found[-1].rule == "more-than-shown"


# What nothing may do


MISTYPED = st.sampled_from([*" \n\t:{}[]\"'#-,&*!|>%@`?\\\r\x00é\u00a0", "- ", ": "])


@st.composite
def mutated(draw: st.DrawFn) -> bytes:
    """A sound studio after a few slips of the hand."""
    text = STUDIO
    for _ in range(draw(st.integers(1, 6))):
        start = draw(st.integers(0, len(text)))
        end = draw(st.integers(start, min(len(text), start + 20)))
        put = draw(st.just("") | MISTYPED | st.just(text[end : end + 10]))
        text = text[:start] + put + text[end:]
    return text.encode(draw(st.sampled_from(["utf-8", "utf-8", "utf-16", "cp1252"])))


def judge(data: bytes) -> None:
    """Whatever the bytes: a table, or findings whose places are in the text."""
    root = read(data, "studio.yaml")
    if isinstance(root, Table):
        return
    assert root
    assert list(root) == list(dict.fromkeys(root))
    lines = text_of(data).split("\n")
    for found in root:
        if found.place is not None:
            line = lines[found.place.line - 1]
            assert found.place.end_column <= len(line) + 1, found
    assert render(root, {"studio.yaml": text_of(data)})


@given(st.binary(max_size=400))
def test_no_bytes_raise(data: bytes) -> None:
    judge(data)


@given(st.text("ab:-[]{}\"'#,&*!|>%@`? \n\t", max_size=120))
def test_no_signs_raise(text: str) -> None:
    judge(text.encode())


@given(mutated())
def test_no_slip_of_the_hand_raises(data: bytes) -> None:
    judge(data)


WORST: dict[str, str] = {
    "a slip in every line": "a: b: c\n" * 20_000,
    "no colon anywhere": "ab\n" * 60_000,
    "stairs": "".join(" " * n + "a:\n" for n in range(600)) + "b: c: d\n",
    "stairs down": "".join(" " * n + "a: b\n" for n in range(600, 0, -1)),
    "a slip in every table": "k:\n  a: b\n   c: d\n" * 10_000,
    "one slip after many names": "k: v\n" * 15_000 + "x: y: z\n",
    "quotes": '"\n' * 100_000,
    "one long line": "a: " + '"b" ' * 60_000,
}


@pytest.mark.parametrize("text", WORST.values(), ids=WORST.keys())
def test_no_file_is_parsed_over_and_over(
    text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    parsed = 0

    def counted(
        real: Callable[..., events.Grown],
    ) -> Callable[..., events.Grown]:
        def grow(lines: Any, first: int, end: int, name: str) -> events.Grown:
            nonlocal parsed
            parsed += sum(len(line) + 1 for line in lines[first:end])
            return real(lines, first, end, name)

        return grow

    monkeypatch.setattr(marks, "grow", counted(events.grow))
    assert isinstance(read(text.encode(), "studio.yaml"), tuple)
    assert parsed <= (events.DEEPEST + 2) * len(text)
