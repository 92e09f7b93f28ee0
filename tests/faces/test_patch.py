"""The patch list as text, as a table, and as a page."""

from __future__ import annotations

import csv
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from bridge.faces.cli import main
from bridge.files.shelf import shipped_studios

HARBOUR = str(shipped_studios() / "harbour-night-watch.yaml")

GREENHOUSE = """\
studio: Greenhouse <first> & last
people:
  gardener: {room: greenhouse}
gear:
  desk:   {profile: desk-by-hand}
  laptop: {profile: computer-one-pair, plays: {music: pair 1}}
  organ:  {profile: player-stereo}
  mic:
    profile: microphone-dynamic-cardioid
    room: greenhouse
    spoken into by: gardener
    distance: 0.2 m
  phones: {profile: headphones-closed, worn by: gardener, listening level: 74 dB}
patch:
  - mic.out -> desk.in 1 over 7 m
  - organ.out L -> desk.in 2
  - laptop.pair 1 -> desk.in 5/6
  - desk.monitor out -> phones.in
"""


def said(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    code = main(["patch", *words])
    out = capsys.readouterr()
    return code, out.out + out.err


@pytest.fixture
def greenhouse(tmp_path: Path) -> str:
    file = tmp_path / "greenhouse.yaml"
    file.write_text(GREENHOUSE)
    return str(file)


def test_the_text_has_cables_shopping_order_and_cautions(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, text = said(capsys, HARBOUR)
    assert code == 0
    assert re.search(r"^  1 +mic 1\.out +desk\.in 1$", text, re.MULTILINE)
    assert "  2 x balanced cable, XLR female to XLR male  (cable 1, 2)\n" in text
    assert "  1. switch everything off: amplifiers and active speakers first\n" in text
    assert "never mains" in text or "no mains" in text
    assert "Doubtful or wrong" not in text
    assert all(len(line) <= 88 for line in text.splitlines())


def test_what_does_not_fit_stands_below_the_list(
    greenhouse: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, text = said(capsys, greenhouse)
    assert code == 0  # all of it is advice
    below = text.partition("Doubtful or wrong:")[2]
    assert re.findall(r"(?:error|advice)\[([a-z-]+)\]", below) == [
        "lane-lost",
        "levels-differ",
        "headphones-on-line",
    ]
    assert re.search(r"^  1 +mic\.out +desk\.in 1 +7 m$", text, re.MULTILINE)


def test_an_error_of_a_cable_ends_with_1_and_still_gives_the_list(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "wrong.yaml"
    wrong = GREENHOUSE.replace("desk.monitor out -> phones.in", "X")
    file.write_text(
        wrong.replace(
            "laptop.pair 1 -> desk.in 5/6\n  - X", "laptop.pair 1 -> desk.in 3/4"
        )
    )
    code, text = said(capsys, str(file))
    assert code == 1
    assert "error[connector-misfit]: no cable leads from laptop.pair 1" in text
    assert "The order of plugging" in text
    assert said(capsys, str(file), "--json")[0] == 1


def test_the_table_reads_back(capsys: pytest.CaptureFixture[str]) -> None:
    code, text = said(capsys, HARBOUR, "--csv")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert code == 0
    assert len(rows) == 12
    assert rows[0] == {
        "cable": "1",
        "from": "mic 1.out",
        "to": "desk.in 1",
        "plug": "XLR female",
        "other plug": "XLR male",
        "wiring": "balanced mono",
        "pieces": "1",
        "length": "",
        "note": "",
    }


class Text(HTMLParser):
    """The words of a page, and what it would fetch."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.fetches: list[str] = []
        self.labels = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        known = dict(attrs)
        self.labels += known.get("class") == "label"
        if tag in ("script", "link", "img") or "src" in known or "href" in known:
            self.fetches.append(tag)

    def handle_data(self, data: str) -> None:
        self.words.append(data.strip())


def test_the_page_stands_alone_and_escapes_names(
    greenhouse: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, html = said(capsys, greenhouse, "--html")
    text = Text()
    text.feed(html)
    assert code == 0
    assert text.fetches == []
    assert "Patch list of Greenhouse <first> & last" in text.words
    assert "url(" not in html
    assert "<first>" not in html


def test_there_is_a_label_for_each_plug(capsys: pytest.CaptureFixture[str]) -> None:
    text = Text()
    text.feed(said(capsys, HARBOUR, "--html")[1])
    # 2 microphones and one USB cable; a pair of split cables in the desk; 4 pairs;
    # two headphones whose own cables sit in the amplifier
    assert text.labels == 2 * 3 + 2 * 2 + 4 * 4 + 2 * 2


def test_json_has_the_list_too(capsys: pytest.CaptureFixture[str]) -> None:
    told = json.loads(said(capsys, HARBOUR, "--json")[1])
    assert (told["command"], told["exit"], len(told["cables"])) == ("patch", 0, 12)
    assert told["shopping"][0]["count"] == 2


def test_a_studio_that_cannot_be_read_is_answered_with_its_findings(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "broken.yaml"
    file.write_text(GREENHOUSE.replace("mic.out", "mick.out"))
    code, text = said(capsys, str(file))
    assert (code, "error[unknown-name]" in text) == (1, True)
    assert said(capsys, str(tmp_path / "none.yaml"))[0] == 2


def test_a_studio_without_cables_says_how_to_write_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "bare.yaml"
    file.write_text("studio: Bare\ngear:\n  desk: {profile: desk-by-hand}\n")
    code, text = said(capsys, str(file))
    assert code == 2
    assert "write them under patch:, as mic.out -> desk.in 1" in text
