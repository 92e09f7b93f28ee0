"""A habit of every test of an adapter."""

import asyncio
import sys
from collections.abc import AsyncIterator
from importlib.util import find_spec
from typing import Any

import pytest

# python-rtmidi has no wheel for Python 3.13, where JACK is an option for those who
# build it; everywhere else its absence fails these tests.
collect_ignore = (
    ["test_midi_rtmidi.py", "test_midi_rtmidi_child.py"]
    if sys.version_info >= (3, 13) and find_spec("rtmidi") is None
    else []
)


@pytest.fixture(autouse=True)
async def nothing_raises_into_the_loop() -> AsyncIterator[None]:
    """Fail the test in which a reader, a timer or a task lets an exception out."""
    raised: list[dict[str, Any]] = []
    asyncio.get_running_loop().set_exception_handler(
        lambda _, what: raised.append(what)
    )
    yield
    assert raised == []
