"""Reading YAML: the tree, and the place of everything in it.

Outside facts: the same library's BaseLoader, which keeps every scalar a text, is the
oracle for what is valid.
"""

import unicodedata
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.finding import Place
from bridge.files.tree import Listing, Table, Text
from tests.fakes.yaml_texts import STUDIO, as_data, findings, table


def base_loaded(text: str) -> Any:
    return yaml.load(text, Loader=yaml.BaseLoader)


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
