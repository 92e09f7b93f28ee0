"""The order of setting levels, and readings that a person enters."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from bridge.faces.cli import main
from bridge.files.shelf import shipped_studios

OBSERVATORY = shipped_studios() / "observatory.yaml"


def said(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    code = main([*words])
    out = capsys.readouterr()
    return code, out.out + out.err


def with_readings(tmp_path: Path, *lines: str) -> str:
    file = tmp_path / "studio.yaml"
    text = OBSERVATORY.read_text()
    file.write_text(f"{text}\nreadings:\n" + "".join(f"  {line}\n" for line in lines))
    return str(file)


def test_the_steps_have_what_to_do_and_what_to_read(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, text = said(capsys, "lineup", str(OBSERVATORY))
    assert code == 0
    assert " 1. presenter speaks; turn the trim of desk.in 1\n" in text
    assert "    expected: 0.0 dB (-18.0 dBFS)\n" in text
    # 74 dB at 1 m, both speakers playing alike: what the meter reads
    assert "    expected: 74.0 dB SPL\n" in text
    assert text.index("turn speakers (") < text.index("turn phones (")


def test_the_hearing_caution_comes_first_and_the_dose_with_its_sources(
    capsys: pytest.CaptureFixture[str],
) -> None:
    text = said(capsys, "lineup", str(OBSERVATORY))[1]
    assert text.index("A computed level is not a measured one") < text.index(" 1. ")
    # WHO/ITU-T H.870: 80 dBA for 40 h a week, so 74 dBA for 10^0.6 = 3.981 times that
    assert "presenter, speakers: 74 dBA: all day (NIOSH), 159 h a week" in text


def test_speakers_and_headphones_are_compared(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = said(capsys, "lineup", str(OBSERVATORY))[1]
    assert "speakers and phones are 0.0 dB apart (at most 6 dB): matched" in text
    loud = with_readings(tmp_path, "jingles at presenter in speakers: 82 dB")
    text = " ".join(said(capsys, "lineup", loud)[1].split())
    assert "are 8.0 dB apart (at most 6 dB): too far apart: it startles" in text
    assert "expected: 74.0 dB SPL; read: 82.0 dB SPL, +8.0 dB off" in text


def test_what_it_prints_can_be_put_into_the_file_as_it_is(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = said(capsys, "lineup", str(OBSERVATORY))[1]
    lines = text.partition("\nreadings:\n")[2].splitlines()
    file = with_readings(tmp_path, *(line.strip() for line in lines))
    code, text = said(capsys, "lineup", file)
    assert code == 0
    assert len(lines) == len(re.findall(r"read: .*0\.0 dB off", text)) == 7
    assert said(capsys, "check", file)[0] == 0


def test_readings_become_what_the_model_hears(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    quiet = with_readings(
        tmp_path,
        "jingles at desk.in 7/8: -22 dBFS",
        "jingles at presenter in phones: 70 dB",
    )
    told = json.loads(said(capsys, "hears", quiet, "--scene", "phones", "--json")[1])
    heard = told["scenes"]["phones"]
    assert heard["stream"]["jingles"]["level"] == pytest.approx(-4.0, abs=0.01)
    assert heard["presenter"]["jingles"]["level"] == pytest.approx(70.0, abs=0.01)


def test_a_reading_may_break_a_rule_and_check_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # the presenter's cap is 85 dB
    loud = with_readings(tmp_path, "jingles at presenter in speakers: 96 dB")
    code, text = said(capsys, "check", loud)
    assert code == 1
    assert "sudden-level" in text


@pytest.mark.parametrize(
    ("line", "rule", "says"),
    [
        ("jingels at stream in phones: -3 dB", "unknown-name", 'mean "jingles"'),
        ("jingles at desk.in 7: -3 dB", "unknown-name", 'mean "desk.in 7/8"'),
        ("jingles at stream in fones: -3 dB", "unknown-name", "the jack or listener"),
        ("jingles: -3 dB", "line-not-understood", "SOURCE at JACK-OR-LISTENER"),
        ("jingles at stream in phones: -3", "missing-unit", "dB or dBFS"),
        ("jingles at presenter in phones: -18 dBFS", "wrong-unit", "a sound level"),
        ("jingles at stream in start: -3 dB", "reading-of-nothing", "never comes"),
        ("jingles at stream in phones: -90 dB", "reading-far-off", "40 dB apart"),
    ],
)
def test_a_reading_that_tells_nothing_is_answered_with_its_place(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    line: str,
    rule: str,
    says: str,
) -> None:
    file = with_readings(tmp_path, line)
    code, text = said(capsys, "check", file)
    assert code == 1
    assert f"error[{rule}]" in text
    assert says in " ".join(text.split())
    assert re.search(r"studio\.yaml:\d+:\d+: error", " ".join(text.split()))


def test_a_studio_without_scenes_is_lined_up_too(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = str(tmp_path / "lesson.yaml")
    assert main(["new", file, "--from", "lesson"]) == 0
    capsys.readouterr()
    told = json.loads(said(capsys, "lineup", file, "--json")[1])
    assert [stop["meter"] for stop in told["stops"]] == [
        "strip",
        "strip",
        "feed",
        "ear",
    ]
    assert {stop["scene"] for stop in told["stops"]} == {None}
    steps = said(capsys, "lineup", file)[1]
    assert "speak into mic; read the level that pupil gets" in steps  # no tone there
