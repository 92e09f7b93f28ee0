"""The wave solver against every numbering there is."""

from __future__ import annotations

import random
from itertools import product

import pytest

from bridge.core.precedence import GaveUp, Lesson, Work, waves_of
from tests.fakes.times import seeds


def lesson(before: set[int], after: set[int]) -> Lesson:
    return Lesson("rule", frozenset(before), frozenset(after))


def some_lessons(rng: random.Random, events: int) -> list[Lesson]:
    def some() -> frozenset[int]:
        return frozenset(rng.sample(range(events), rng.randint(1, min(3, events))))

    return [Lesson(f"r{i}", some(), some()) for i in range(rng.randint(1, 2 * events))]


@pytest.mark.parametrize("events", [2, 3, 4, 5])
def test_a_numbering_is_found_if_and_only_if_there_is_one(events: int) -> None:
    answers = set()
    for seed in seeds(60):
        lessons = some_lessons(random.Random(seed), events)
        for most in range(1, events + 1):
            waves = waves_of(events, lessons, most, Work(100_000))
            possible = any(
                all(le.obeyed(numbers) for le in lessons)
                for numbers in product(range(1, most + 1), repeat=events)
            )
            answers.add(possible)
            assert (waves is not None) == possible
            if waves is not None:
                assert all(le.obeyed(waves) for le in lessons)
                assert set(waves) <= set(range(1, most + 1))
    assert answers == {True, False}


def test_every_event_comes_as_early_as_it_can() -> None:
    chain = [lesson({0}, {1}), lesson({1}, {2})]
    assert waves_of(4, chain, 4, Work(10)) == (1, 2, 3, 1)


def test_a_ring_has_no_numbering() -> None:
    ring = [lesson({0}, {1}), lesson({1}, {2}), lesson({2}, {0})]
    assert waves_of(3, ring, 3, Work(100)) is None


def test_an_event_cannot_come_before_itself() -> None:
    assert waves_of(1, [lesson({0}, {0})], 1, Work(100)) is None


def test_a_lesson_without_a_way_out_has_no_numbering() -> None:
    assert waves_of(1, [lesson(set(), {0})], 1, Work(100)) is None


def test_work_that_is_used_up_is_no_answer() -> None:
    with pytest.raises(GaveUp):
        waves_of(2, [lesson({0}, {1})], 2, Work(1))
