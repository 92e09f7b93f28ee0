"""What scenes may say of controls that only a hand can set."""

from __future__ import annotations

from pathlib import Path

from bridge.core.control import Reach
from bridge.core.settings import before_start
from bridge.core.studio import Studio
from bridge.files.shelf import shipped_studios
from bridge.files.studio import Loaded, load

PLAYBACK, MIC = "desk: in 5/6 to monitor", "desk: in 1 to program"
LIGHTHOUSE = (shipped_studios() / "lighthouse-reading-hour.yaml").read_text()


def loaded(tmp_path: Path, scenes: str, more: str = "") -> Loaded:
    """The lighthouse, whose desk is set by hand, with other scenes."""
    head, _, rest = LIGHTHOUSE.partition("scenes:\n")
    _, _, rest = rest.partition("buttons:\n")
    text = f"{head}scenes:\n{scenes}\n{more}buttons:\n{rest}"
    file = tmp_path / "studio.yaml"
    file.write_text(text.replace("tap: [reading, aloud]", "tap: [start, quiet]"))
    return load(file, shown="studio.yaml")


def whole(found: Loaded) -> Studio:
    assert found.studio is not None, found.findings
    return found.studio


QUIET = """\
  start: {changeover: rest}
  quiet: {changeover: rest, monitor: []}
"""


def test_a_value_of_its_own_is_a_step_by_hand(tmp_path: Path) -> None:
    studio = whole(loaded(tmp_path, QUIET))
    control = studio.controls[PLAYBACK]
    assert (control.reach, studio.scenes["quiet"].values[PLAYBACK]) == (
        Reach.HAND,
        False,
    )
    # What by hand: says of it is how it stands in the scene start, and nowhere sure.
    assert studio.scenes["start"].values[PLAYBACK] is True
    assert before_start(studio)[PLAYBACK] == {False, True}


def test_what_a_scene_only_repeats_is_set_once(tmp_path: Path) -> None:
    studio = whole(loaded(tmp_path, QUIET.replace("monitor: []", "program: [mic]")))
    assert set(studio.scenes["quiet"].values) == {"changeover: position"}
    assert before_start(studio)[MIC] == {True}


def test_a_copy_takes_the_step_with_it(tmp_path: Path) -> None:
    studio = whole(loaded(tmp_path, f"{QUIET}  copy: {{from: quiet}}\n"))
    assert studio.scenes["copy"].values == studio.scenes["quiet"].values


def test_a_hand_is_no_helper(tmp_path: Path) -> None:
    found = loaded(tmp_path, QUIET, "helpers: {mic to monitor: off}\n")
    (wrong,) = (f for f in found.findings if f.rule == "not-remote")
    assert wrong.message == "mic to monitor is set by hand: it cannot help for a moment"
