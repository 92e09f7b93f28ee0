"""The table: total, reached only by its moves, and drawn for the developers.

`python -m tests.core.test_table` draws it into DEVELOPERS.md anew.
"""

import re
from pathlib import Path
from typing import get_args

import pytest

from bridge.core.button import Gesture
from bridge.core.effects import (
    Began,
    Done,
    Due,
    Event,
    Moved,
    NotSent,
    PortFound,
    PortLost,
    Pressed,
    Said,
    Stop,
    Wanted,
)
from bridge.core.table import MOVES, TABLE, Act, State
from tests.fakes.stage import Stage
from tests.fakes.studio import studio

PAGE = Path(__file__).resolve().parents[2] / "DEVELOPERS.md"
BEGIN, END = "<!-- machine table -->", "<!-- end of machine table -->"

EVENTS: tuple[type[Event], ...] = get_args(Event)

ONE_OF_EACH: tuple[Event, ...] = (
    Began(),
    Pressed("pedal", Gesture.TAP),
    Wanted("call"),
    Moved("mic", value=False),
    Said("pad", value=False),
    Done(),
    Due(),
    NotSent("desk", "no route"),
    PortLost("desk", "cable pulled"),
    PortFound("desk"),
    Stop(),
)


def words_of(event: type[Event]) -> str:
    """The event's name as one reads it: PortLost is "port lost"."""
    return re.sub(r"(?<!^)(?=[A-Z])", " ", event.__name__).lower()


def drawn() -> str:
    """The table and the moves, as the developers' page shows them."""
    head = "| event | " + " | ".join(state.value for state in State) + " |"
    lines = [head, "| --- " * (len(State) + 1) + "|"]
    for event in EVENTS:
        cells = " | ".join(TABLE[state][event].value for state in State)
        lines.append(f"| {words_of(event)} | {cells} |")
    lines += ["", "```mermaid", "stateDiagram-v2", "    [*] --> starting"]
    lines += [
        f"    {state.value} --> {after.value}"
        for state in State
        for after in State
        if after in MOVES[state]
    ]
    lines += ["    stopped --> [*]", "```"]
    return "\n".join(lines)


def stage_in(state: State) -> Stage:
    """A stage that has been brought into this state by what happens to people."""
    stage = Stage(studio(start="quiet"))
    if state is State.STARTING:
        stage.happen(Began())
        return stage
    stage.start()
    stage.go("phones")
    stage.run(2.0)
    if state in (State.CROSSING, State.HALTED, State.STOPPING):
        stage.desk.fate = lambda: (0.010,)
        stage.go("speakers")
    if state is State.HALTED:
        stage.unplug()
        stage.plug_in()
    if state in (State.STOPPING, State.STOPPED):
        stage.stop()
    if state is State.STOPPED:
        stage.run(2.0)
    assert stage.state() is state
    return stage


def test_every_state_has_every_event_and_no_other() -> None:
    assert set(TABLE) == set(State) == set(MOVES)
    for state in State:
        assert set(TABLE[state]) == set(EVENTS), state


def test_every_act_is_done_somewhere() -> None:
    assert {act for row in TABLE.values() for act in row.values()} == set(Act)


def test_one_of_each_event_is_tried_below() -> None:
    assert tuple(type(event) for event in ONE_OF_EACH) == EVENTS


@pytest.mark.parametrize("state", State, ids=lambda state: state.value)
@pytest.mark.parametrize("event", ONE_OF_EACH, ids=lambda e: words_of(type(e)))
def test_the_machine_does_what_the_table_says(state: State, event: Event) -> None:
    stage = stage_in(state)
    told, sent = len(stage.told), len(stage.sent)
    stage.happen(event)
    after = stage.state()
    assert after is state or after in MOVES[state]
    if TABLE[state][type(event)] is Act.IGNORE:
        assert (after, len(stage.told), len(stage.sent)) == (state, told, sent)
    if state is State.STOPPED:
        assert len(stage.sent) == sent


@pytest.mark.parametrize("state", State, ids=lambda state: state.value)
def test_every_state_ends_when_it_is_told_to_stop(state: State) -> None:
    stage = stage_in(state)
    stage.stop()
    stage.run(3.0)
    assert stage.state() is State.STOPPED


def test_the_developers_page_shows_the_table_as_it_is() -> None:
    page = PAGE.read_text(encoding="utf-8")
    shown = page.partition(BEGIN)[2].partition(END)[0]
    assert shown.strip() == drawn(), f"run python -m {__name__} to draw it anew"


def draw() -> None:
    """Put the table into the page, between its marks."""
    page = PAGE.read_text(encoding="utf-8")
    before, begin, rest = page.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not begin or not end:
        msg = f"{PAGE.name} must have {BEGIN} and {END}, each on its line"
        raise SystemExit(msg)
    text = f"{before}{begin}\n{drawn()}\n{end}{after}"
    PAGE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    draw()
