"""Known names, nearest first."""

from hypothesis import given
from hypothesis import strategies as st

from bridge.files.near import did_you_mean, nearest_first

SCENES = ("start", "phones", "speakers", "remote call")


def test_the_name_with_a_slip_comes_first() -> None:
    assert nearest_first("speekers", SCENES)[0] == "speakers"
    assert did_you_mean("speekers", SCENES) == 'did you mean "speakers"?'


def test_case_dashes_and_underscores_are_no_difference() -> None:
    assert did_you_mean("Remote_Call", SCENES) == 'did you mean "remote call"?'
    assert nearest_first("REMOTE-CALL", SCENES)[0] == "remote call"


def test_nothing_is_suggested_for_a_word_that_is_like_none() -> None:
    assert did_you_mean("xylophone band", SCENES) == ""
    assert did_you_mean("phones", ()) == ""
    assert did_you_mean("pedal", ("equal",)) == ""


def test_equally_near_names_keep_their_order() -> None:
    assert nearest_first("zzz", ("b", "a", "c")) == ("b", "a", "c")


@given(st.text(max_size=80), st.lists(st.text(max_size=80), max_size=8))
def test_every_known_name_is_there_once(word: str, known: list[str]) -> None:
    near = nearest_first(word, known)
    assert sorted(near) == sorted(set(known))


@given(st.lists(st.text(min_size=1, max_size=50), min_size=1, max_size=8, unique=True))
def test_a_known_name_is_as_near_as_can_be(known: list[str]) -> None:
    for name in known:
        first = nearest_first(name, known)[0]
        plain = first.casefold().replace("-", " ").replace("_", " ")
        assert plain == name.casefold().replace("-", " ").replace("_", " ")
