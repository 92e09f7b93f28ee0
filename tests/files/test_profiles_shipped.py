"""The profiles that come with Treadle, their page, and a desk of each language."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from pathlib import Path

import pytest

from bridge.core.control import Reach
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.proof import prove
from bridge.faces.new.sheet import studio_text
from bridge.faces.new.starters import STARTERS
from bridge.faces.schema import tables
from bridge.files.notes import Notes
from bridge.files.profile import load_profile, read_profile
from bridge.files.shelf import profile_folders, shipped_profiles
from bridge.files.studio import load_text
from bridge.files.studio_gear import Shelf

PROFILES = sorted(shipped_profiles().glob("*.yaml"))
PAGE = shipped_profiles() / "README.md"


@pytest.mark.parametrize("file", PROFILES, ids=lambda file: file.stem)
def test_a_shipped_profile_is_sound_named_as_its_file_and_commented(file: Path) -> None:
    notes = Notes()
    profile, text = load_profile(file, file.name, notes)
    assert profile is not None
    assert (profile.name, notes.findings) == (file.stem, ())
    assert text.startswith("# ")
    for control in profile.controls.values():
        if control.reach is Reach.REMOTE:
            assert control.about or set(control.messages) == set(control.values)
        if control.reach is Reach.HAND:
            assert control.hand_words


@pytest.mark.parametrize("desk", ["desk-nrpn", "desk-sysex", "desk-control-change"])
def test_a_studio_is_proved_with_a_desk_of_each_language(desk: str) -> None:
    answers = replace(STARTERS["observatory"], captures=1, feeds=())
    text = studio_text(answers, "x.yaml").replace(
        'profile: desk-osc, osc: "192.168.4.20:9000"', f'profile: {desk}, midi: "Desk"'
    )
    assert desk in text
    loaded = load_text(text.encode(), "x.yaml", Shelf(profile_folders(), Notes()))
    assert loaded.studio is not None, loaded.findings
    judge = HouseJudge(loaded.studio)
    assert prove(judge, Planner(judge)).holds


MEMORIES = """\
studio: Tower room, four memories
people:
  host:  {room: tower}
  guest: {room: far away, round trip: 100 ms, echo return loss: 45 dB}
gear:
  desk: {profile: DESK, midi: "Desk"}
  computer:
    profile: computer-two-pairs
    plays: {guest: pair 1, bells: pair 2}
    takes: {guest: capture}
  mic:
    profile: microphone-condenser-cardioid
    room: tower
    spoken into by: host
    distance: 0.2 m
  phones: {profile: headphones-active, worn by: host, listening level: 70 dB}
patch:
  - mic.out          -> desk.mic
  - computer.pair 1  -> desk.call
  - computer.pair 2  -> desk.music
  - desk.program out -> computer.capture
  - desk.monitor out -> phones.in
scenes:
  start: {desk: all off}
  talk:  {desk: talk}
  call:  {desk: call}
needs:
  - host hears guest in call
  - guest hears host in call
"""


@pytest.mark.parametrize("desk", ["desk-memories", "desk-show-control"])
def test_a_desk_of_memories_is_proved(desk: str) -> None:
    text = MEMORIES.replace("DESK", desk)
    loaded = load_text(text.encode(), "x.yaml", Shelf(profile_folders(), Notes()))
    assert loaded.studio is not None, loaded.findings
    judge = HouseJudge(loaded.studio)
    found = prove(judge, Planner(judge))
    assert (found.holds, found.findings) == (True, ())


# The page


def yaml_blocks(text: str) -> str:
    """All examples of the page's walk, which are indented, one after the other."""
    blocks = re.findall(r"^   ```yaml\n(.*?)```", text, re.DOTALL | re.MULTILINE)
    return "\n".join(line[3:] for block in blocks for line in block.splitlines())


def test_the_page_s_walk_makes_the_messages_of_its_chart() -> None:
    notes = Notes()
    profile = read_profile(yaml_blocks(PAGE.read_text()).encode(), "my-desk", notes)
    assert profile is not None, notes.findings
    sent = {
        (name, value): str(messages[0]).strip(": ")
        for name, control in profile.controls.items()
        for value, messages in control.messages.items()
    }
    # the chart: control change 22, channel 2, 127 is "strip 2 to monitor on"
    assert sent["in 1 to program", True] == "B0 15 7F"
    assert sent["in 2 to program", False] == "B0 16 00"
    assert sent["in 1 to monitor", True] == "B1 15 7F"
    assert sent["in 2 to monitor", True] == "B1 16 7F"
    scale = [float(at) for at, _ in profile.controls["in 1 level"].numbers]
    assert scale == [float("-inf"), 0.0, 10.0]


def test_the_page_has_the_table_of_every_key() -> None:
    text = PAGE.read_text()
    head, _, rest = text.partition("<!-- keys -->\n")
    tail = rest[rest.index("<!-- end of keys -->") :]
    wanted = f"{head}<!-- keys -->\n{tables('profile')}\n{tail}"
    if os.environ.get("WRITE_GOLDEN"):
        PAGE.write_text(wanted)
    assert PAGE.read_text() == wanted
