"""What goes to pages that are open: the newest text, signs of life, and to how many."""

import asyncio
from typing import Any

import pytest

from bridge.faces.panel.hub import MOST_STREAMS, Full, Hub


async def next_of(stream: Any) -> bytes:
    async with asyncio.timeout(10):
        return bytes(await anext(stream))


async def test_a_slow_page_gets_the_newest_text_only() -> None:
    hub = Hub()
    slow, quick = hub.stream(), hub.stream()
    assert await next_of(slow) == await next_of(quick) == b"retry: 1000\n\n"
    for number in range(100):
        hub.publish(b"%d" % number)
        if number == 0:
            assert await next_of(quick) == b"data: 0\n\n"
    assert await next_of(slow) == await next_of(quick) == b"data: 99\n\n"
    hub.close()
    assert await next_of(slow) == b"event: bye\ndata:\n\n"
    with pytest.raises(StopAsyncIteration):
        await anext(slow)
    await quick.aclose()
    assert len(hub) == 0


async def test_signs_of_life_stop_with_the_last_page(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("bridge.faces.panel.hub.BEAT_S", 0.001)
    hub = Hub()
    stream = hub.stream()
    await next_of(stream)
    assert await next_of(stream) == b"event: beat\ndata:\n\n"
    await stream.aclose()
    assert not hub.wanted.is_set()
    hub.close()


async def test_there_are_only_so_many_streams() -> None:
    hub = Hub()
    streams = [hub.stream() for _ in range(MOST_STREAMS)]
    for stream in streams:
        await next_of(stream)
    with pytest.raises(Full):
        await next_of(hub.stream())
    await streams[0].aclose()
    late = hub.stream()
    assert await next_of(late)
    for stream in (*streams, late):
        await stream.aclose()
    hub.close()
