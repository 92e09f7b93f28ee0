"""The story that a rehearsal tells, word for word, and what it says to bad steps."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from bridge.faces.outcome import CouldNotRunError, Exit
from bridge.faces.rehearse import rehearse
from bridge.faces.stage import replaced
from bridge.files.shelf import shipped_studios

OBSERVATORY = shipped_studios() / "observatory.yaml"

GOLDEN = Path(__file__).parent / "golden" / "rehearse-observatory.txt"
"""The story of the observatory; WRITE_GOLDEN=1 writes it anew."""


def test_the_observatory_in_bad_weather() -> None:
    """Lost packets, a cable out and in, a kill while the speakers are live."""
    steps = ["press pedal", "lose 3", "press pedal", "pull desk", "plug desk", "kill"]
    told = rehearse(OBSERVATORY, steps)
    if os.environ.get("WRITE_GOLDEN"):
        GOLDEN.write_text(f"{told.text}\n")
    assert f"{told.text}\n" == GOLDEN.read_text()
    assert told.code is Exit.FINE


def test_without_steps_every_button_is_pressed_once_round() -> None:
    told = rehearse(OBSERVATORY, [])
    pressed = [line for line in told.text.splitlines() if line.startswith("press ")]
    assert pressed == [
        "press pedal tap",
        "press pedal tap",
        "press pedal hold",
    ]
    assert told.text.endswith("at no moment was a never-rule broken")
    assert told.code is Exit.FINE


def test_doubled_and_late_packets_change_nothing_but_the_times() -> None:
    plain = rehearse(OBSERVATORY, ["press pedal", "press pedal", "stop"])
    rough = rehearse(
        OBSERVATORY,
        ["double", "late 40 ms", "press pedal", "press pedal", "calm", "stop"],
    )
    assert rough.code is Exit.FINE
    assert _heard(rough.text) == _heard(plain.text)


def _heard(text: str) -> list[str]:
    return [line[12:] for line in text.splitlines() if line[12:].startswith("    ear")]


def test_a_hand_that_breaks_a_rule_is_shown_and_ends_in_findings() -> None:
    told = rehearse(OBSERVATORY, ["go remote call", "hand astronomer to program on"])
    broken = [line for line in told.text.splitlines() if "BROKEN" in line]
    assert len(broken) == 1
    assert "own-voice-late: astronomer to astronomer" in broken[0]
    assert "alarm" in told.text
    assert "broken once, at" in told.text.splitlines()[-1]
    assert told.code is Exit.FINDINGS


@pytest.mark.parametrize(
    ("step", "words", "cure"),
    [
        ("jump", 'the step "jump" is not understood', "steps:"),
        ("lose many", 'the step "lose many" is not understood', "steps:"),
        ("kill twice", 'the step "kill twice" is not understood', "steps:"),
        ("press pedl", "pedl", "pedal"),
        ("go fones", "fones", "phones"),
        ("pull desck", "desck", "desk"),
        ("hand mic to monitor of", "mic to monitor of", "mic to monitor off"),
        ("wait a while", "a while", "ms"),
        ("late 3 dB", 'got "dB"', "ms"),
    ],
)
def test_a_step_that_is_not_understood(step: str, words: str, cure: str) -> None:
    with pytest.raises(CouldNotRunError) as failed:
        rehearse(OBSERVATORY, ["press pedal", step])
    assert words in str(failed.value)
    assert cure in f"{failed.value} {failed.value.cure}"


def test_lamps_are_told_when_they_change_and_one_line_a_moment(tmp_path: Path) -> None:
    """Lit, on the way, dark, a fault: README, "Lights of a pad"."""
    text = replaced(
        OBSERVATORY.read_text(),
        ("  laptop:\n", f"  pads: {PADS}\n  sign: {SIGN}\n  laptop:\n"),
        ("buttons:\n", f"lamps: {LAMPS}\nbuttons:\n"),
    )
    path = tmp_path / "studio.yaml"
    path.write_text(text)
    told = rehearse(path, ["press pedal", "press pedal", "pull desk"])
    *_, first, there, second, gone, both, fault = (
        line.partition("  lamps   ")[2]
        for line in told.text.splitlines()
        if "  lamps   " in line
    )
    assert first == "pads.light 1 coming, sign.lamp coming"
    assert there == "pads.light 1 lit, sign.lamp lit"
    assert second == "pads.light 1 unsure, pads.light 2 coming, sign.lamp coming"
    assert gone == "pads.light 1 dark"
    assert both == "pads.light 2 lit, sign.lamp lit"
    assert fault == "pads.light 2 unsure, sign.lamp fault"


PADS = '{profile: pad-lights, midi: "Pads"}'
SIGN = "{profile: indicator-gpio, line: 22}"
LAMPS = "{pads.light 1: phones, pads.light 2: speakers, sign.lamp: everything}"


def test_a_board_reads_its_coil_back_while_the_contacts_still_move(
    tmp_path: Path,
) -> None:
    """Read coils (function 01) answers with the coil, set or not: MODBUS Application
    Protocol 1.1b3, section 6.1. So nothing is sent twice where all is well."""
    text = replaced(
        OBSERVATORY.read_text(),
        (
            "{profile: changeover-gpio, line: 17}",
            "{profile: changeover-modbus, modbus: {serial: /dev/ttyUSB0}}",
        ),
    )
    file = tmp_path / "studio.yaml"
    file.write_text(text)
    told = rehearse(file, ["go phones", "go speakers"]).text
    sent = [line for line in told.splitlines() if "changeover: coil" in line]
    assert len(sent) == 1
    assert sent[0].endswith("coil 0 to 1 on")


def test_a_studio_with_errors_is_not_rehearsed(tmp_path: Path) -> None:
    text = OBSERVATORY.read_text()
    path = tmp_path / "studio.yaml"
    path.write_text(text + "never:\n  - stream never hears presenter\n")
    told = rehearse(path, [])
    assert told.code is Exit.FINDINGS
    assert "not rehearsed: mend the studio first" in told.text
