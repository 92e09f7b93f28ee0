"""Lines of the console, of a journal and for a script.

Published source: sd-daemon(3), systemd 252: a line that begins with "<N>" has the
syslog priority N in the journal.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest

from bridge.core.effects import Tell, Told
from bridge.faces.records import json_line, plain_line, priority, text_line

AT = datetime(2031, 5, 6, 7, 8, 9, 123456, UTC)
REFUSED = Tell(
    Told.REFUSED, "call is refused", "call", rules=("howl",), cure="cut the mic"
)


def test_a_terminal_has_the_time_and_the_cure() -> None:
    assert text_line(REFUSED, AT) == (
        "07:08:09.123 refused       call is refused; cure: cut the mic"
    )
    assert plain_line("imagined", "relay: line driven", AT) == (
        "07:08:09.123 imagined      relay: line driven"
    )


def test_a_journal_has_the_weight_instead() -> None:
    assert text_line(REFUSED, None) == (
        "<4>refused       call is refused; cure: cut the mic"
    )
    assert plain_line("imagined", "relay: line driven", None).startswith("<6>imagined")


@pytest.mark.parametrize(
    ("told", "weight"),
    [(Told.ALARM, 3), (Told.HALTED, 4), (Told.BY_HAND, 5), (Told.ARRIVED, 6)],
)
def test_what_is_wrong_weighs_more(told: Told, weight: int) -> None:
    assert priority(Tell(told, "words")) == weight


def test_a_script_gets_every_part() -> None:
    assert json.loads(json_line(REFUSED, AT)) == {
        "treadle": 1,
        "command": "run",
        "when": "2031-05-06T07:08:09.123+00:00",
        "told": "refused",
        "words": "call is refused",
        "scene": "call",
        "controls": [],
        "rules": ["howl"],
        "people": [],
        "cure": "cut the mic",
    }
