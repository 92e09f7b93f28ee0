"""A small part of the fuzzing, the same each time; all of it: python -m tests.fuzz."""

import gc
import tracemalloc

import pytest
from hypothesis import HealthCheck, given, seed, settings

from tests.fuzz.mutants import mutants
from tests.fuzz.targets import TARGETS

COUNTS = {"studio": 40, "profile": 60, "journal": 40}
"""Mutants of what takes long; of the others a hundred."""


@pytest.mark.long
@pytest.mark.parametrize("name", TARGETS)
def test_nothing_escapes(name: str) -> None:
    target = TARGETS[name]
    fed = settings(
        max_examples=COUNTS.get(name, 120),
        derandomize=False,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )(seed(1)(given(mutants(target.corpus()))(target.one)))
    fed()


@pytest.mark.parametrize("name", ["midi", "osc", "osc stream"])
def test_nothing_is_kept_of_what_was_bad(name: str) -> None:
    target = TARGETS[name]
    cut = [d[: len(d) * k // 9] for d in target.corpus()[:3] for k in range(9)]
    bad = [data + b"\xff{" for data in cut]
    for data in bad:
        target.one(data)
    gc.collect()
    tracemalloc.start()
    try:
        before = tracemalloc.take_snapshot()
        for _ in range(5):
            for data in bad:
                target.one(data)
        gc.collect()
        after = tracemalloc.take_snapshot()
    finally:
        tracemalloc.stop()
    grown = sum(stat.size_diff for stat in after.compare_to(before, "filename"))
    # 135 pieces of some hundred bytes each would be kept if they were kept.
    assert grown < 20_000, grown
