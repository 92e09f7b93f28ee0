"""Reading YAML: what is said about every slip.

Outside facts: the slips that must not pass silently (last duplicate wins, `on` becomes
True, 010 becomes 8, an alias bomb) are those of YAML 1.1 itself
(yaml.org/type/bool.html, int.html, merge.html).
"""

import itertools
from pathlib import Path

import pytest
import yaml

from bridge.core.finding import Finding, Place
from bridge.faces.report import render
from bridge.files import events
from bridge.files.characters import text_of
from bridge.files.marks import LARGEST_FILE, MOST_FINDINGS, read
from tests.fakes.yaml_texts import as_data, findings, table

BROKEN = Path(__file__).resolve().parents[1] / "broken" / "reading"
SLIPS = sorted(BROKEN.glob("*.yaml"))


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
