"""Habits that every test keeps without asking for them."""

import os
import threading
from collections.abc import Generator, Iterator

import pytest
from blockbuster import blockbuster_ctx
from coverage import Coverage
from hypothesis import settings

JOIN_S = 5.0
"""How long a thread that was told to end may take; the need is milliseconds."""

SKIPS_FAIL = os.environ.get("CI") == "true"
"""On the checking machine everything is installed, so a skip hides a gap."""

# A deadline would judge the machine. The checking machine searches further, and
# the same way each time, so that what it finds can be found again.
settings.register_profile("desk", max_examples=50, deadline=None)
settings.register_profile(
    "checking", max_examples=200, deadline=None, derandomize=True, database=None
)
settings.load_profile("checking" if SKIPS_FAIL else "desk")


@pytest.fixture(autouse=True)
def no_thread_outlives_its_test() -> Iterator[None]:
    """Fail the test that leaves a thread running."""
    before = frozenset(threading.enumerate())
    yield
    started = [t for t in threading.enumerate() if t not in before]
    for thread in started:
        thread.join(JOIN_S)
    left = sorted(thread.name for thread in started if thread.is_alive())
    assert not left, f"still running after the test: {', '.join(left)}"


@pytest.fixture(autouse=True)
def nothing_blocks_the_loop() -> Iterator[None]:
    """Fail the test in which our code blocks a running event loop."""
    counter = _lock_of_the_counter_of_lines()
    with blockbuster_ctx(scanned_modules="bridge") as watch:
        # What counts the lines that run takes its lock from within a line of ours when
        # a new thread comes to a file; no frame between tells that it is not our lock.
        acquire = watch.functions["threading.Lock.acquire"]
        usual = acquire.can_block_predicate
        acquire.deactivate()
        acquire.can_block_predicate = lambda lock, *args, **words: (
            lock is counter or usual(lock, *args, **words)
        )
        acquire.activate()
        # A link in /sys is the kernel's memory: no disk is waited for.
        watch.functions["os.readlink"].can_block_in("adapters/midi_alsa.py", "plugged")
        yield


def _lock_of_the_counter_of_lines() -> object:
    """Coverage's lock over what it has counted; a new object where nothing counts."""
    running = Coverage.current()
    collector = getattr(running, "_collector", None)
    return getattr(collector, "data_lock", None) or object()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[
    None, pytest.TestReport, pytest.TestReport
]:
    """Turn a skipped test into a failed one where nothing may be skipped."""
    report = yield
    if SKIPS_FAIL and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"nothing may be skipped here: {report.longrepr}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[
    None, pytest.CollectReport, pytest.CollectReport
]:
    """Do the same for a whole file that skips itself."""
    report = yield
    if SKIPS_FAIL and report.skipped:
        report.outcome = "failed"
        report.longrepr = f"nothing may be skipped here: {report.longrepr}"
    return report
