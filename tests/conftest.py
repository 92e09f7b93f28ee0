"""Habits that every test keeps without asking for them."""

import os
import threading
from collections.abc import Generator, Iterator

import pytest
from blockbuster import blockbuster_ctx
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
    with blockbuster_ctx(scanned_modules="bridge") as watch:
        # What counts the lines that run takes a lock when a new thread comes; the line
        # that it counts is ours, the lock is not.
        watch.functions["threading.Lock.acquire"].can_block_in(
            "coverage/collector.py", "lock_data"
        )
        yield


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
