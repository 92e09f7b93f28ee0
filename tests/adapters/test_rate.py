"""How much one sender may say: pure, so time is whatever the test says."""

from hypothesis import given
from hypothesis import strategies as st

from bridge.adapters.rate import ALL_TOGETHER, BURST, PER_SECOND, SENDERS, RateLimit


def test_a_burst_passes_and_then_the_rate() -> None:
    limit = RateLimit()
    assert sum(limit.allows("a", 0.0) for _ in range(1000)) == BURST
    assert sum(limit.allows("a", 1.0) for _ in range(1000)) == min(BURST, PER_SECOND)
    assert limit.allows("a", 1.0 + 1.0 / PER_SECOND)


def test_a_hand_is_never_held_back() -> None:
    limit = RateLimit()
    assert all(limit.allows("a", k / 20) for k in range(2000))


def test_many_senders_together_are_held_back_too() -> None:
    limit = RateLimit()
    passed = sum(limit.allows(sender, 0.0) for sender in range(1000))
    assert passed == BURST * ALL_TOGETHER
    assert len(limit) == SENDERS


@given(st.lists(st.tuples(st.integers(0, 200), st.floats(0, 1)), max_size=300))
def test_the_memory_and_the_total_are_bounded(steps: list[tuple[int, float]]) -> None:
    limit, now, passed = RateLimit(), 0.0, 0
    for sender, wait in steps:
        now += wait
        passed += limit.allows(sender, now)
        assert len(limit) <= SENDERS
    assert passed <= ALL_TOGETHER * (BURST + PER_SECOND * now) + 1
