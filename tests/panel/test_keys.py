"""Who is let in: the token, its file, sessions, and how often one may try."""

import stat
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.faces.panel.keys import MOST_SESSIONS, SESSION_S, Keys
from bridge.faces.panel.rate import MOST_CALLERS, Rates

# Keys


def test_the_file_holds_no_secret_and_is_ours_alone(tmp_path: Path) -> None:
    path = tmp_path / "state" / "panel.json"
    keys = Keys(path, lambda: 5.0)
    token = keys.load()
    assert token is not None
    session = keys.enter(token)
    assert session is not None
    keys.save()
    kept = path.read_text()
    assert token not in kept
    assert session not in kept
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
    again = Keys(path, lambda: 6.0)
    assert again.load() is None  # shown once
    assert again.knows(session)
    assert again.enter(token) is not None


@pytest.mark.parametrize(
    "kept", [b"", b"{", b"[]", b'{"token": 1}', b"\xff", b'{"token":"x","sessions":3}']
)
def test_a_broken_file_lets_nobody_in(tmp_path: Path, kept: bytes) -> None:
    path = tmp_path / "panel.json"
    path.write_bytes(kept)
    keys = Keys(path, lambda: 0.0)
    token = keys.load()
    assert token is not None
    assert keys.enter("x") is None
    assert not keys.knows("")
    assert keys.enter(token)


def test_a_new_token_puts_everybody_out(tmp_path: Path) -> None:
    keys = Keys(tmp_path / "panel.json", lambda: 0.0)
    old = keys.load()
    session = keys.enter(str(old))
    new = keys.renew()
    assert not keys.knows(str(session))
    assert keys.enter(str(old)) is None
    assert keys.enter(new)


def test_sessions_end_by_age_and_by_number() -> None:
    clock = [0.0]
    keys = Keys(None, lambda: clock[0])
    token = str(keys.load())
    first = str(keys.enter(token))
    others = [str(keys.enter(token)) for _ in range(MOST_SESSIONS)]
    assert not keys.knows(first)
    assert keys.knows(others[0])
    clock[0] = SESSION_S
    assert not keys.knows(others[0])
    clock[0] = -1.0  # a clock that was set back lets nobody stay for ever
    assert not keys.knows(others[0])


# How often


@given(st.lists(st.floats(0.0, 10.0), min_size=1, max_size=80))
def test_no_window_lets_more_through_than_it_may(gaps: list[float]) -> None:
    rates = Rates(burst=5, per_s=2.0)
    at, passed = 0.0, []
    for gap in gaps:
        at += gap
        if rates.wait_s("one", at) == 0:
            passed.append(at)
    for first, begin in enumerate(passed):
        for count, end in enumerate(passed[first:], 1):
            assert count <= 5 + 2.0 * (end - begin) + 1e-6


def test_after_the_wait_it_goes_through() -> None:
    rates = Rates(burst=1, per_s=0.5)
    assert rates.wait_s("one", 0.0) == 0
    assert rates.wait_s("one", 0.0) == 2.0
    assert rates.wait_s("two", 0.0) == 0
    assert rates.wait_s("one", 2.0) == 0


def test_many_callers_take_no_more_room() -> None:
    rates = Rates(burst=1, per_s=1.0)
    for number in range(MOST_CALLERS * 3):
        rates.wait_s(str(number), 0.0)
    assert len(rates._left) == MOST_CALLERS
