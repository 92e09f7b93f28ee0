"""The finding: what it refuses to be, and the order in which findings are told."""

import pytest

from bridge.core.finding import Finding, Place, by_place, in_file_order


@pytest.mark.parametrize(
    "rule", ["", "Howl", "own voice", "own_voice", "-howl", "howl-", "a--b", "1howl"]
)
def test_a_rule_must_be_kebab_case(rule: str) -> None:
    with pytest.raises(ValueError, match="rule must be kebab-case"):
        Finding(rule, "a message")


def test_a_finding_must_say_something() -> None:
    with pytest.raises(ValueError, match="finding howl must have a message"):
        Finding("howl", "")


@pytest.mark.parametrize("spot", [(0, 1, 1), (1, 0, 1), (-1, 1, 1)])
def test_a_place_counts_from_one(spot: tuple[int, int, int]) -> None:
    with pytest.raises(ValueError, match="line and column must be 1 or more"):
        Place("studio.yaml", *spot)


def test_a_place_does_not_end_before_it_begins() -> None:
    with pytest.raises(ValueError, match="end_column must be 5 or more, got 4"):
        Place("studio.yaml", 1, 5, 4)


def test_a_place_reads_as_editors_write_it() -> None:
    assert str(Place("studio.yaml", 14, 11, 16)) == "studio.yaml:14:11"


def test_findings_come_in_the_order_of_the_files_and_once() -> None:
    def at(file: str, line: int, column: int, rule: str = "a-rule") -> Finding:
        return Finding(rule, "a message", Place(file, line, column, column))

    nowhere = Finding("howl", "a message", where="scene phones")
    elsewhere = Finding("howl", "a message", where="scene speakers")
    told = (
        at("desk.yaml", 9, 1),
        at("studio.yaml", 2, 10),
        at("studio.yaml", 10, 2, "a-rule"),
        at("studio.yaml", 10, 2, "b-rule"),
        nowhere,
        elsewhere,
    )
    assert in_file_order([*reversed(told), nowhere]) == told


def test_equal_keys_keep_the_order_they_came_in() -> None:
    one = Finding("howl", "first")
    two = Finding("howl", "second")
    assert by_place(one) == by_place(two)
    assert in_file_order([two, one]) == (two, one)
