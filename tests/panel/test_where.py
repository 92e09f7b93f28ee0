"""Where the panel is served, the names that are ours, and the code that shows it."""

import re

import pytest
import segno

from bridge.faces.panel.notice import qr
from bridge.faces.panel.where import Where, read_where

# Where


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("", Where()),
        ("localhost", Where()),
        (":81", Where(port=81)),
        ("192.168.4.2", Where("192.168.4.2")),
        ("192.168.4.2:81", Where("192.168.4.2", 81)),
        ("[::1]:81", Where("::1", 81)),
        ("::1", Where("::1")),
        ("0.0.0.0:0", Where("0.0.0.0", 0)),
    ],
)
def test_a_place_is_read(text: str, where: Where) -> None:
    assert read_where(text) == where


@pytest.mark.parametrize("text", ["studio", "1.2.3", "1.2.3.4:x", "1.2.3.4:65536"])
def test_a_place_that_is_none_is_said(text: str) -> None:
    assert isinstance(read_where(text), str)


def test_only_this_machine_comes_without_a_token() -> None:
    assert Where().is_open
    assert Where("::1").is_open
    assert not Where("192.168.4.2").is_open
    assert not Where("0.0.0.0").is_open
    assert not Where(names=("studio.example",)).is_open  # a proxy is in front of it


def test_the_names_that_are_ours() -> None:
    assert Where(port=81).hosts() == {"localhost:81", "127.0.0.1:81", "[::1]:81"}
    network = Where("192.168.4.2", 81, ("studio.example",))
    assert network.hosts() == {
        "192.168.4.2:81",
        "studio.example:81",
        "studio.example",
    }
    assert Where("10.0.0.2", 80).hosts() == {"10.0.0.2:80", "10.0.0.2"}
    every = Where("0.0.0.0", 81).hosts(("10.0.0.2", "fd00::2"))
    assert {"10.0.0.2:81", "[fd00::2]:81", "localhost:81"} <= every
    assert not any("evil" in name for name in every)


# The code


HALVES = {" ": (0, 0), "\u2588": (1, 1), "\u2580": (1, 0), "\u2584": (0, 1)}
"""What a character shows: the upper and the lower half, 1 for ink."""


def test_the_code_is_drawn_as_the_library_made_it() -> None:
    link = "http://192.168.4.2:9780/#token=" + "A" * 43
    lines = re.sub(r"\x1b\[[0-9;]*m", "", qr(link)).splitlines()
    made = [list(row) for row in segno.make_qr(link, error="l").matrix_iter(border=4)]
    drawn = [[HALVES[c][half] for c in line] for line in lines for half in (0, 1)]
    width = len(made)
    drawn = [row[:width] for row in drawn[:width]]
    # Ink is light on a dark terminal: the other way round is the same code.
    light = [[1 - bool(dark) for dark in row] for row in made]
    dark = [[int(bool(dark)) for dark in row] for row in made]
    assert drawn in (light, dark)
