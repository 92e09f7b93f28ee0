"""A service of another version answers: it is said, with the cure, whatever it sends.

The service of another version is a socket that answers with the packet of another
library (python-osc), from what a service of ours says with one thing changed.
"""

from __future__ import annotations

import copy
import json
import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pythonosc.osc_message_builder import OscMessageBuilder

from bridge.core.effects import Tell, Told
from bridge.core.entries import Worn
from bridge.core.machine import Machine
from bridge.core.missing import Missing
from bridge.engine.status import Figures, ended, noted, status
from bridge.faces.answers import read
from bridge.faces.asking import done, press
from bridge.faces.asking import status as asked_status
from bridge.faces.outcome import CouldNotRunError
from tests.faces.services import observatory
from tests.fakes.clock import SimulatedClock
from tests.fakes.port import FakePort
from tests.fakes.studio import JUDGE, navigator, studio

FILE = Path("my studio.yaml")
RESTART = "sudo systemctl restart treadle; or end it, and: treadle run 'my studio.yaml'"


def _status() -> dict[str, Any]:
    """What a service of ours says, with something in each of its lists."""
    of = studio(start="quiet")
    desk = FakePort("desk", SimulatedClock())
    desk.drops["too fast"] += 1
    figures = Figures(missing=(Missing(("desk",), "a library", "install it"),))
    figures.why_absent["desk"] = "no network"
    worn = [Worn("relay", 10, 100, 0.0)]
    machine = Machine(of, JUDGE, navigator(of, JUDGE), 0.0)
    told = status(machine, [desk], {"press": 1}, figures, 1.0, worn)
    step = {"control": "fader", "value": "up", "words": "set the fader up"}
    unsure = {"control": "fader", "label": "fader", "values": {"up": "set it up"}}
    more = {"by_hand": [step], "later_by_hand": [step], "unsure_by_hand": [unsure]}
    return {**told, **more, "lamps": {"pads.light 1": "lit"}}


ENDED = ended(Tell(Told.ARRIVED, "quiet is in force", "quiet"), Figures(), 0.01, 0)


def _with_one_gone(value: Any) -> Iterator[tuple[Any, str]]:
    """The value without one of its keys, at any depth, and which one that was."""
    for key in value if isinstance(value, dict) else range(len(value)):
        less = copy.copy(value)
        if isinstance(key, str):
            del less[key]
            yield less, key
        if isinstance(value[key], dict | list):
            for inner, gone in _with_one_gone(value[key]):
                less = copy.copy(value)
                less[key] = inner
                yield less, gone


UNREAD = {"gear", "reach", "name", "age_s", "control", "value", "since", "last"}
UNREAD |= {"scene", "people", "desk", "too fast", "press", "pads.light 1", "up"}
"""What no command shows, or what is a name in a table of names."""


@pytest.mark.parametrize("told", [_status(), ENDED, noted(("hand", "x", "y"))])
def test_what_is_ours_is_read_and_what_lacks_anything_is_said(told: object) -> None:
    assert read(json.dumps(told), FILE) == told
    tried = 0
    for less, gone in _with_one_gone(told):
        if gone in UNREAD:
            continue
        with pytest.raises(CouldNotRunError) as caught:
            read(json.dumps(less), FILE)
        assert "another version of Treadle" in caught.value.why
        assert RESTART in caught.value.cure
        tried += 1
    assert tried >= len(told) - 4


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("nonsense", "not of version 1"),
        ("[" * 50_000, "not of version 1"),
        ('{"version": true, "noted": "x"}', "not of version 1"),
        ('{"version": 0, "noted": "hand x y"}', "of what was asked it says: hand x y"),
        ('{"version": 2, "state": 7}', "a newer version of Treadle: it answers in 2"),
        ('{"version": 1, "state": "resting"}', 'what it says of "studio"'),
        ('{"error": "no such button"}', "no such button"),
    ],
)
def test_what_is_not_of_our_version_is_said(text: str, words: str) -> None:
    with pytest.raises(CouldNotRunError) as caught:
        read(text, FILE)
    assert words.replace("in 2", "in version 2") in caught.value.why


def _answering(door: socket.socket, *answers: object) -> None:
    """Answer one question after the other."""
    for told in answers:
        made = OscMessageBuilder("/treadle/answer")
        made.add_arg(json.dumps(told), "s")
        _, sender = door.recvfrom(4096)
        door.sendto(made.build().dgram, sender)


def test_an_older_service_is_asked_and_pressed(tmp_path: Path) -> None:
    place = observatory(tmp_path)
    older = _status()
    del older["later_by_hand"]
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as door:
        door.settimeout(20)
        door.bind(("127.0.0.1", place.door))
        thread = threading.Thread(target=_answering, args=(door, older, older))
        thread.start()
        for ask in (asked_status, lambda file: press(file, "pedal", "tap")):
            with pytest.raises(CouldNotRunError) as caught:
                ask(place.file)
            assert 'of "later_by_hand"' in caught.value.why
            assert f"treadle run {place.file}" in caught.value.cure
        thread.join()


def test_done_says_what_is_to_be_done_by_hand_next(tmp_path: Path) -> None:
    place = observatory(tmp_path)
    half = ended(
        Tell(Told.DONE_BY_HAND, "said to be done: a", "quiet"), Figures(), 0, 0
    )
    next_one = {**_status(), "heading": "quiet"}
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as door:
        door.settimeout(20)
        door.bind(("127.0.0.1", place.door))
        thread = threading.Thread(target=_answering, args=(door, half, next_one))
        thread.start()
        said = done(place.file, None, None).text
        thread.join()
    assert said.startswith("done by hand: said to be done: a\n")
    assert "quiet waits for you. By hand:\n  [ ] set the fader up\n" in said
