"""Prints each test's verdict on a line of its own, for whoever reads the console."""

import sys

import pytest


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Print "@passed NAME" once a test, or what else became of it."""
    if report.when == "call" or not report.passed:
        sys.stdout.write(f"\n@{report.outcome} {report.nodeid}\n")
        sys.stdout.flush()
