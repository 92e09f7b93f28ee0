"""The journal read for the page while its disk hangs."""

import threading

import pytest

from bridge.faces.panel.happened import Before
from bridge.faces.panel.shelf import SLOW, Shelf

FOUND = Before(trouble="read")


async def test_a_disk_that_hangs_is_said_and_asked_once_until_it_answers() -> None:
    answers, begun = threading.Event(), []

    def work() -> Before:
        begun.append(threading.current_thread())
        answers.wait()
        return FOUND

    shelf = Shelf(wait_s=0.01)
    assert await shelf.read(work) == Before(trouble=SLOW)
    assert await shelf.read(work) == Before(trouble=SLOW)
    (thread,) = begun
    assert thread.daemon, "the end of the service does not wait for it"
    answers.set()
    thread.join()
    assert await Shelf().read(work) == FOUND
    assert await shelf.read(work) == FOUND


async def test_a_mistake_in_reading_reaches_whoever_asked() -> None:
    def work() -> Before:
        raise OSError(5, "Input/output error")

    with pytest.raises(OSError, match="Input/output error"):
        await Shelf().read(work)
