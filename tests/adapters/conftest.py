"""A habit of every test of an adapter."""

import asyncio
from collections.abc import AsyncIterator
from typing import Any

import pytest


@pytest.fixture(autouse=True)
async def nothing_raises_into_the_loop() -> AsyncIterator[None]:
    """Fail the test in which a reader, a timer or a task lets an exception out."""
    raised: list[dict[str, Any]] = []
    asyncio.get_running_loop().set_exception_handler(
        lambda _, what: raised.append(what)
    )
    yield
    assert raised == []
