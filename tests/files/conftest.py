"""Studios that several files here look into: the example, and three shipped ones."""

from pathlib import Path

import pytest

from bridge.core.studio import Studio
from bridge.files.shelf import shipped_studios
from bridge.files.studio import load
from tests.fakes.studio_files import EXAMPLE, load_text, whole


@pytest.fixture
def example(tmp_path: Path) -> Studio:
    return whole(load_text(tmp_path, EXAMPLE))


@pytest.fixture
def observatory() -> Studio:
    return whole(load(shipped_studios() / "observatory.yaml"))


@pytest.fixture
def harbour() -> Studio:
    return whole(load(shipped_studios() / "harbour-night-watch.yaml"))


@pytest.fixture
def lighthouse() -> Studio:
    return whole(load(shipped_studios() / "lighthouse-reading-hour.yaml"))
