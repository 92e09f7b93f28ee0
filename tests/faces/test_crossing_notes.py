"""What `treadle crossing` says of toggles, recalls and levels in steps."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.faces.cli import main
from tests.faults.variants import LEVELS, MEMORIES, TOGGLES, studio_file

WAYS = {
    TOGGLES: (
        ("phones", "speakers"),
        (
            "2 legs, 3 messages, 120 ms",
            "desk: /strip/1/to/2/press 1, 28 bytes",
            (
                "mic to monitor and mic to program: their messages turn them over; "
                "asked after 100 ms, and sent again only if nothing moved"
            ),
        ),
    ),
    MEMORIES: (
        ("remote call", "speakers"),
        (
            "2 legs, 2 messages, 40.0 ms",
            "cut desk memory 2 desk: /memory/load 2, 24 bytes",
            (
                "desk memory 2 brings mic to monitor off, mic to program off, "
                "astronomer to monitor off: all in one instant, or nothing"
            ),
        ),
    ),
    LEVELS: (
        ("phones", "talk over"),
        (
            "1 leg, 4 messages, 220 ms",
            (
                "jingles level goes in 4 steps of 6 dB at most, one every 40.0 ms; all "
                "between is proved"
            ),
        ),
    ),
}


@pytest.mark.parametrize("name", WAYS)
def test_a_leg_says_what_its_messages_do_not(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (start, goal), said = WAYS[name]
    assert main(["crossing", str(studio_file(name, tmp_path)), start, goal]) == 0
    text = " ".join(capsys.readouterr().out.split())
    for words in said:
        assert words in text
