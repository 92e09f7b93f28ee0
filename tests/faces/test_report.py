"""Findings on a terminal and as JSON."""

import json
import re
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.finding import Finding, Place, Severity
from bridge.faces.report import WIDTH, cells, render, shown, summary, to_json

FILE = "studio.yaml"
SOURCE = """\
scenes:
  remote call: {from: phones, program: [mic, jingles], monitor: [mic, jingles, call]}
"""

OWN_VOICE = Finding(
    "own-voice-late",
    "astronomer hears their own voice come back late",
    Place(FILE, 2, 3, 14),
    where="scene remote call",
    people=("astronomer", "presenter"),
    measured="echo loss 12.0 dB after 376 ms",
    limit="at least 42.5 dB",
    path=(
        "laptop.pair 1 -> desk.in 5/6   0.0 dB, 0 ms",
        "desk.in 5/6 -> desk.program   -3.0 dB, 1.2 ms",
    ),
    note="the call goes back into the bus that the remote guest hears, so that their "
    "own words return after the whole way there and back",
    cure="take astronomer off program",
)

REPORT = """\
studio.yaml:2:3: error[own-voice-late]: astronomer hears their own voice come back late
   2 |   remote call: {from: phones, program: [mic, jingles], monitor: [mic, jingl...
     |   ^^^^^^^^^^^
  where: scene remote call
  who: astronomer, presenter
  measured: echo loss 12.0 dB after 376 ms
  limit: at least 42.5 dB
  path:
    laptop.pair 1 -> desk.in 5/6   0.0 dB, 0 ms
    desk.in 5/6 -> desk.program   -3.0 dB, 1.2 ms
  note: the call goes back into the bus that the remote guest hears, so that their own
        words return after the whole way there and back
  cure: take astronomer off program
"""


def test_a_finding_is_told_with_its_line_evidence_and_cure() -> None:
    assert render([OWN_VOICE], {FILE: SOURCE}) == REPORT


def test_colour_adds_nothing_but_colour() -> None:
    coloured = render([OWN_VOICE], {FILE: SOURCE}, colour=True)
    assert "\x1b[31m" in coloured
    assert re.sub(r"\x1b\[[0-9]+m", "", coloured) == REPORT


def test_a_finding_without_a_place_or_a_source_is_told_all_the_same() -> None:
    advice = Finding("howl", "a loop is near unity", severity=Severity.ADVICE)
    lost = Finding("howl", "a loop", Place("gone.yaml", 3, 1, 2))
    beyond = Finding("howl", "a loop", Place(FILE, 99, 1, 2))
    assert render([advice, lost, beyond], {FILE: SOURCE}) == (
        "gone.yaml:3:1: error[howl]: a loop\n"
        "\n"
        "studio.yaml:99:1: error[howl]: a loop\n"
        "\n"
        "advice[howl]: a loop is near unity\n"
    )


def test_nothing_is_said_about_nothing() -> None:
    assert render([], {}) == ""
    assert summary([]) == "nothing found"


def test_the_summary_counts() -> None:
    advice = Finding("howl", "a loop", severity=Severity.ADVICE)
    more = Finding("howl", "another loop", severity=Severity.ADVICE)
    assert summary([OWN_VOICE]) == "1 error"
    assert summary([advice]) == "1 piece of advice"
    assert summary([OWN_VOICE, advice, more]) == "1 error, 2 pieces of advice"


def caret_lines(line: str, column: int, end: int) -> tuple[str, str]:
    """Return the line and the carets as printed, without the gutter."""
    finding = Finding("a-rule", "a message", Place(FILE, 1, column, end))
    _, source, carets = render([finding], {FILE: line}).splitlines()
    assert source.startswith("   1 | ")
    assert carets.startswith("     | ")
    return source[7:], carets[7:]


@pytest.mark.parametrize(
    ("line", "word", "carets"),
    [
        ("room: dome", "dome", "      ^^^^"),
        ("\u90e8\u5c4b: dome", "dome", "      ^^^^"),
        ("a: \u5929\u6587", "\u5929\u6587", "   ^^^^"),
        ("cafe\u0301: dome", "dome", "      ^^^^"),
        ("a\tb: dome", "dome", "        ^^^^"),
        ("a: \U0001f600 dome", "dome", "      ^^^^"),
        ("a: x\x1by dome", "dome", "       ^^^^"),
    ],
)
def test_carets_stand_under_the_word(line: str, word: str, carets: str) -> None:
    column = line.index(word) + 1
    assert caret_lines(line, column, column + len(word))[1] == carets


def test_a_place_without_width_has_one_caret() -> None:
    assert caret_lines("feeds:", 7, 7) == ("feeds:", "      ^")


def test_a_place_that_goes_over_the_line_ends_with_it() -> None:
    assert caret_lines("feeds:", 1, 60) == ("feeds:", "^^^^^^")


@pytest.mark.parametrize("start", [1, 40, 100, 600, 995])
def test_a_long_line_is_cut_to_what_matters(start: int) -> None:
    line = "x" * (start - 1) + "HERE" + "y" * (1000 - start)
    source, carets = caret_lines(line, start, start + 4)
    assert cells(source) <= WIDTH - 7
    assert source[carets.index("^") : carets.rindex("^") + 1] == "HERE"


STEERING = "\x1b[2J\x07\x9b1m\u202e\r\x00\u2028"


def test_no_text_from_outside_steers_the_terminal() -> None:
    finding = Finding(
        "a-rule",
        f"a {STEERING} message",
        Place(f"a{STEERING}.yaml", 1, 1, 2),
        where=STEERING,
        people=(STEERING,),
        measured=STEERING,
        limit=STEERING,
        path=(STEERING,),
        note=STEERING,
        cure=STEERING,
    )
    text = render([finding], {finding.place.file if finding.place else "": STEERING})
    steers = {c for c in text if unicodedata.category(c) in ("Cc", "Zl", "Zp")}
    assert steers == {"\n"}
    assert "\u202e" not in text


def test_lines_are_counted_as_editors_count_them() -> None:
    finding = Finding("a-rule", "a message", Place(FILE, 2, 1, 2))
    for end in ("\n", "\r\n", "\r"):
        assert "   2 | b" in render([finding], {FILE: f"a\x0b\x0c\x85{end}b{end}c"})


WORDS = st.lists(st.text("abc天é", min_size=1, max_size=12), min_size=1, max_size=40)


@given(WORDS, WORDS, st.integers(40, 100))
def test_every_line_fits_the_terminal_and_no_word_is_lost(
    message: list[str], note: list[str], width: int
) -> None:
    finding = Finding("a-rule", " ".join(message), note=" ".join(note))
    text = render([finding], {}, width=width)
    assert all(cells(line) <= width for line in text.splitlines())
    assert text.split() == ["error[a-rule]:", *message, "note:", *note]


@given(st.text(max_size=60), st.integers(1, 70), st.integers(0, 70), st.integers(1, 4))
def test_no_place_and_no_text_breaks_a_report(
    source: str, column: int, width: int, line: int
) -> None:
    place = Place(FILE, line, column, column + width)
    finding = Finding("a-rule", source or "x", place, note=source, cure=source)
    text = render([finding], {FILE: source}, colour=True)
    uncoloured = re.sub(r"\x1b\[[0-9]+m", "", text)
    assert uncoloured.startswith(f"studio.yaml:{line}:{column}: error[a-rule]:")
    assert shown(uncoloured.replace("\n", "")) == uncoloured.replace("\n", "")


def test_json_holds_everything_under_fixed_keys() -> None:
    assert json.loads(json.dumps(to_json(OWN_VOICE))) == {
        "version": 1,
        "rule": "own-voice-late",
        "severity": "error",
        "message": "astronomer hears their own voice come back late",
        "place": {"file": FILE, "line": 2, "column": 3, "end_column": 14},
        "where": "scene remote call",
        "people": ["astronomer", "presenter"],
        "measured": "echo loss 12.0 dB after 376 ms",
        "limit": "at least 42.5 dB",
        "path": list(OWN_VOICE.path),
        "note": OWN_VOICE.note,
        "cure": "take astronomer off program",
    }


def test_json_without_a_place_says_null() -> None:
    bare = to_json(Finding("howl", "a loop", severity=Severity.ADVICE))
    assert bare.keys() == to_json(OWN_VOICE).keys()
    assert bare["place"] is None
    assert bare["severity"] == "advice"
