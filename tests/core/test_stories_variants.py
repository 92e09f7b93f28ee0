"""Lives in bad weather where the desk is turned over, recalls, or goes in steps.

As in `test_stories`, in the variants of the observatory; TREADLE_TIMES=20 lives more.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.core.judge import HouseJudge
from bridge.core.plans import navigator_for
from bridge.files.studio import load
from tests.fakes.navigators import remembering
from tests.fakes.story import Story, live
from tests.fakes.times import seeds
from tests.faults.variants import VARIANTS, studio_file

pytestmark = pytest.mark.long

LIVES, CHAPTERS = 8, 60


@pytest.mark.parametrize("name", VARIANTS)
def test_lives_with_another_desk(name: str, tmp_path: Path) -> None:
    """Every step is judged: by the rules, and by what is believed of it."""
    studio = load(studio_file(name, tmp_path)).studio
    assert studio is not None
    judge = HouseJudge(studio)
    navigator, steps = remembering(navigator_for(judge), studio), 0
    for seed in seeds(LIVES):
        try:
            story = Story(judge, navigator, seed)
            live(story, seed, CHAPTERS)
        except AssertionError as failed:
            failed.add_note(f"{name}, seed {seed}")
            raise
        steps += story.steps
    assert steps > 600 * LIVES
