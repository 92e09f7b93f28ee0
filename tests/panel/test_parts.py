"""The parts of the panel that need no browser and no server."""

import asyncio
import json
import re
import stat
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import segno
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.belief import settled, unknown
from bridge.core.control import Reach
from bridge.core.effects import Told
from bridge.core.entries import Entry, Kept, Worn
from bridge.core.finding import Finding
from bridge.core.judge import HouseJudge
from bridge.core.knowledge import Ground
from bridge.core.leg import Change
from bridge.core.machine import Machine
from bridge.core.planner import Planner
from bridge.core.plans import navigator_for
from bridge.core.studio import Studio
from bridge.core.wire import Value
from bridge.faces.hears import setting_of
from bridge.faces.panel import judged, looks, now
from bridge.faces.panel.happened import PAST, Before, before, happened, took
from bridge.faces.panel.hub import MOST_STREAMS, Full, Hub
from bridge.faces.panel.keys import MOST_SESSIONS, SESSION_S, Keys
from bridge.faces.panel.looks import SetUp
from bridge.faces.panel.notice import qr
from bridge.faces.panel.rate import MOST_CALLERS, Rates
from bridge.faces.panel.snapshot import Believed, Record, Snapshot, look_at
from bridge.faces.panel.where import Where, read_where
from bridge.files.shelf import shipped_studios
from bridge.files.studio import load
from bridge.wiring.journal import read_journal


@pytest.fixture(scope="module")
def studio() -> Studio:
    found = load(shipped_studios() / "observatory.yaml").studio
    assert found is not None
    return found


@pytest.fixture(scope="module")
def judge(studio: Studio) -> HouseJudge:
    return HouseJudge(studio)


def look(studio: Studio, scene: str | None, **changes: Any) -> Snapshot:
    """As the service would see it in a scene; None: nothing is known."""
    belief = unknown(studio.controls) if scene is None else setting_of(studio, scene)
    belief = settled(belief, changes.pop("moved", {}))
    ground = Ground.UNKNOWN if scene is None else Ground.CONFIRMED
    believed = tuple(Believed(n, v, ground, 90.0) for n, v in belief.items())
    scenes = () if scene is None else (scene,)
    return replace(Snapshot(100.0, "resting", scenes, "", believed, {}), **changes)


# What is believed, and whether it is safe


@pytest.mark.parametrize(
    ("values", "ground", "kind"),
    [
        ({True}, Ground.CONFIRMED, "known"),
        ({True}, Ground.SETTLED, "known"),
        ({True}, Ground.HAND, "hand"),
        ({True, False}, Ground.HAND, "hand"),
        ({True, False}, Ground.IN_FLIGHT, "flight"),
        ({True, False}, Ground.UNCONFIRMED, "flight"),
        ({True, False}, Ground.LOST, "unknown"),
        ({True, False}, Ground.SILENT, "unknown"),
    ],
)
def test_each_kind_of_belief_has_its_word(
    values: set[bool], ground: Ground, kind: str
) -> None:
    assert now.kind_of(Believed("c", frozenset(values), ground, 0.0)) == kind


def test_a_scene_is_safe_and_a_slip_is_not(studio: Studio, judge: HouseJudge) -> None:
    assert judged.safety(judge, look(studio, "remote call"))["state"] == "safe"
    slip = look(studio, "remote call", moved={"desk: in 5/6 to program": True})
    told = judged.safety(judge, slip)
    assert told["state"] == "unsafe"
    assert told["why"][0]["rule"] == "own-voice-late"
    assert "astronomer" in told["why"][0]["message"]
    assert set(told["ways"]) == set(studio.scenes)


def test_what_is_not_known_is_not_called_safe(
    studio: Studio, judge: HouseJudge
) -> None:
    told = judged.safety(judge, look(studio, None))
    assert told["state"] == "unsure"
    assert "changeover" in told["unsure"]


def test_what_moves_in_one_instant_is_judged_as_the_machine_does(
    studio: Studio, judge: HouseJudge
) -> None:
    """Before, the guest is in the phones; after, no microphone hears the speakers."""
    machine = Machine(studio, judge, navigator_for(judge), 0.0)
    for name, (value,) in setting_of(studio, "remote call").items():
        machine.knowledge.say(name, value, Ground.CONFIRMED, 1.0)
    settings: dict[str, Value] = {
        "desk: in 1 to program": False,
        "changeover: position": "pulled",
    }
    machine.knowledge.sending_at_once(
        [Change(n, v, machine.knowledge.belief[n]) for n, v in settings.items()], 2.0
    )
    here = look_at(machine, 3.0)
    assert judged.safety(judge, here)["state"] == "safe"
    assert judged.safety(judge, replace(here, halves=()))["state"] == "unsure"
    presenter = judged.hearing(judge, here.possible)[0]
    assert presenter["hears"] == ["presenter", "astronomer", "jingles"]
    on = {gear["name"]: gear["sure"] for gear in presenter["on"]}
    assert on == {"phones": False, "speakers": False}
    for name, value in settings.items():
        machine.knowledge.hear(name, value, 4.0)
    assert len(look_at(machine, 5.0).possible) == 1


def test_the_listening_path_is_told_with_what_is_heard(
    studio: Studio, judge: HouseJudge
) -> None:
    heard = {
        who["name"]: who
        for who in judged.hearing(judge, look(studio, "remote call").possible)
    }
    here = heard["presenter"]
    assert [gear["name"] for gear in here["on"]] == ["phones"]
    assert here["hears"] == ["presenter", "astronomer", "jingles"]
    guest = heard["astronomer"]
    assert "astronomer" not in guest["hears"]
    assert guest["far"]
    unsure = judged.hearing(judge, look(studio, None).possible)[0]
    assert unsure["hears"] == []
    assert "jingles" in unsure["perhaps"]
    assert {g["name"] for g in unsure["on"] if not g["sure"]} == {"phones", "speakers"}


def test_steps_by_hand_are_in_the_words_of_the_gear(studio: Studio) -> None:
    name = "changeover: position"
    control = replace(
        studio.controls[name], reach=Reach.HAND, hand_words={"pulled": "push it down"}
    )
    changed = replace(studio, controls={**studio.controls, name: control})
    asked = [(name, "pulled"), (name, "rest")]
    assert [step["words"] for step in now.hand_steps(changed, asked)] == [
        "push it down",
        "set changeover to rest (changeover)",
    ]


def test_a_relay_near_its_end_is_told_with_what_to_do(studio: Studio) -> None:
    worn = (Worn("changeover: position", 80_000, 100_000, 0.0),)
    seen = now.quick(studio, look(studio, "phones", worn=worn), [])
    assert seen["worn"] == [
        {
            "words": "changeover: position: 80,000 of 100,000 operations",
            "cure": "have a new one ready",
        }
    ]


def test_a_button_tells_where_it_would_lead(studio: Studio) -> None:
    def tap(seen: Snapshot) -> str:
        shown = now.quick(studio, seen, ())["buttons"][0]["gestures"]
        return str({g["gesture"]: g["next"] for g in shown}["tap"])

    assert tap(look(studio, "phones")) == "speakers"
    assert tap(look(studio, "speakers")) == "phones"
    assert tap(look(studio, "phones", heading="speakers")) == "phones"
    assert tap(look(studio, None)) == "phones"


def test_every_view_is_json(studio: Studio, judge: HouseJudge) -> None:
    for scene in (*studio.scenes, None):
        seen = look(studio, scene)
        for view in (
            now.quick(studio, seen, ()),
            judged.safety(judge, seen),
            looks.hears(judge, seen),
            looks.crossings(judge, Planner(judge), seen),
        ):
            assert json.loads(json.dumps(view, allow_nan=False)) == view


def test_a_scene_that_is_refused_says_why(studio: Studio) -> None:
    on = {"desk: in 5/6 to program": True}
    call = studio.scenes["remote call"]
    wrong = replace(call, values={**call.values, **on})
    changed = replace(studio, scenes={**studio.scenes, "remote call": wrong})
    judge = HouseJudge(changed)
    seen = look(changed, "phones")
    ways = looks.crossings(judge, Planner(judge), seen)["ways"]
    (refused,) = [way for way in ways if way["id"] == "remote call"]
    assert "astronomer" in refused["refused"][0]["message"]
    assert refused["refused"][0]["cure"]


def test_crossings_are_timed_from_begin_to_end() -> None:
    def at(told: Told, scene: str, when: float) -> Record:
        return Record(told, "", when, when, scene)

    records = [
        at(Told.CROSSING, "a", 1.0),
        at(Told.ARRIVED, "a", 1.02),
        at(Told.ARRIVED, "a", 1.5),  # a press that had nothing to do
        at(Told.CROSSING, "b", 2.0),
        at(Told.SUPERSEDED, "b", 2.1),
        at(Told.ARRIVED, "b", 3.0),
    ]
    assert [(t["scene"], t["ms"]) for t in took(records)] == [("a", 20.0)]


def test_a_finding_carries_the_line_it_is_about() -> None:
    loaded = load(shipped_studios() / "observatory.yaml")
    assert loaded.studio is not None
    place = loaded.studio.scenes["speakers"].place
    assert place is not None
    finding = Finding("howl", "it howls", place)
    shown = looks.set_up(loaded.studio, SetUp((finding,), loaded.sources))
    source = shown["findings"][0]["source"]
    line = source["before"] + source["marked"] + source["after"]
    text = (shipped_studios() / "observatory.yaml").read_text()
    assert line == text.splitlines()[place.line - 1]
    assert source["marked"] == "speakers"


# The hub


async def next_of(stream: Any) -> bytes:
    async with asyncio.timeout(10):
        return bytes(await anext(stream))


async def test_a_slow_page_gets_the_newest_text_only() -> None:
    hub = Hub()
    slow, quick = hub.stream(), hub.stream()
    assert await next_of(slow) == await next_of(quick) == b"retry: 1000\n\n"
    for number in range(100):
        hub.publish(b"%d" % number)
        if number == 0:
            assert await next_of(quick) == b"data: 0\n\n"
    assert await next_of(slow) == await next_of(quick) == b"data: 99\n\n"
    hub.close()
    assert await next_of(slow) == b"event: bye\ndata:\n\n"
    with pytest.raises(StopAsyncIteration):
        await anext(slow)
    await quick.aclose()
    assert len(hub) == 0


async def test_signs_of_life_stop_with_the_last_page(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("bridge.faces.panel.hub.BEAT_S", 0.001)
    hub = Hub()
    stream = hub.stream()
    await next_of(stream)
    assert await next_of(stream) == b"event: beat\ndata:\n\n"
    await stream.aclose()
    assert not hub.wanted.is_set()
    hub.close()


async def test_there_are_only_so_many_streams() -> None:
    hub = Hub()
    streams = [hub.stream() for _ in range(MOST_STREAMS)]
    for stream in streams:
        await next_of(stream)
    with pytest.raises(Full):
        await next_of(hub.stream())
    await streams[0].aclose()
    late = hub.stream()
    assert await next_of(late)
    for stream in (*streams, late):
        await stream.aclose()
    hub.close()


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


# Where


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("", Where()),
        ("localhost", Where()),
        (":81", Where(port=81)),
        ("192.168.4.2", Where("192.168.4.2")),
        ("192.168.4.2:81", Where("192.168.4.2", 81)),
        ("[::1]:81", Where("::1", 81)),
        ("::1", Where("::1")),
        ("0.0.0.0:0", Where("0.0.0.0", 0)),
    ],
)
def test_a_place_is_read(text: str, where: Where) -> None:
    assert read_where(text) == where


@pytest.mark.parametrize("text", ["studio", "1.2.3", "1.2.3.4:x", "1.2.3.4:65536"])
def test_a_place_that_is_none_is_said(text: str) -> None:
    assert isinstance(read_where(text), str)


def test_only_this_machine_comes_without_a_token() -> None:
    assert Where().is_open
    assert Where("::1").is_open
    assert not Where("192.168.4.2").is_open
    assert not Where("0.0.0.0").is_open
    assert not Where(names=("studio.example",)).is_open  # a proxy is in front of it


def test_the_names_that_are_ours() -> None:
    assert Where(port=81).hosts() == {"localhost:81", "127.0.0.1:81", "[::1]:81"}
    network = Where("192.168.4.2", 81, ("studio.example",))
    assert network.hosts() == {
        "192.168.4.2:81",
        "studio.example:81",
        "studio.example",
    }
    assert Where("10.0.0.2", 80).hosts() == {"10.0.0.2:80", "10.0.0.2"}
    every = Where("0.0.0.0", 81).hosts(("10.0.0.2", "fd00::2"))
    assert {"10.0.0.2:81", "[fd00::2]:81", "localhost:81"} <= every
    assert not any("evil" in name for name in every)


# The code


HALVES = {" ": (0, 0), "\u2588": (1, 1), "\u2580": (1, 0), "\u2584": (0, 1)}
"""What a character shows: the upper and the lower half, 1 for ink."""


def test_the_code_is_drawn_as_the_library_made_it() -> None:
    link = "http://192.168.4.2:9780/#token=" + "A" * 43
    lines = re.sub(r"\x1b\[[0-9;]*m", "", qr(link)).splitlines()
    made = [list(row) for row in segno.make_qr(link, error="l").matrix_iter(border=4)]
    drawn = [[HALVES[c][half] for c in line] for line in lines for half in (0, 1)]
    width = len(made)
    drawn = [row[:width] for row in drawn[:width]]
    # Ink is light on a dark terminal: the other way round is the same code.
    light = [[1 - bool(dark) for dark in row] for row in made]
    dark = [[int(bool(dark)) for dark in row] for row in made]
    assert drawn in (light, dark)


def test_the_journal_is_newest_first_with_ages() -> None:
    records = [Record(Told.ARRIVED, str(n), float(n), 0.0) for n in range(3)]
    shown = happened(records, {"words": 2}, 5.0, Before())
    assert [(r["words"], r["age"]) for r in shown["records"]] == [
        ("2", 3.0),
        ("1", 4.0),
        ("0", 5.0),
    ]
    assert shown["dropped"] == {"words": 2}
    assert shown["faults"] == {}


def test_of_the_journal_s_file_only_what_is_not_in_memory_is_shown() -> None:
    kept = [Entry(when, "arrived", f"at {when}", end_ms=when) for when in (1.0, 2, 3)]
    past = Kept(tuple(kept), 3, (), (), (), ())
    found = before(lambda: past, first=3.0)
    shown = happened([Record(Told.ALARM, "now", 0.0, 3.0)], {}, 0.0, found)
    assert [r["words"] for r in shown["records"]] == ["now", "at 2", "at 1.0"]
    assert [t["ms"] for t in shown["took"]] == [1.0, 2]
    assert shown["faults"] == {"alarm": 1}


def test_a_journal_that_cannot_be_read_is_said_and_the_rest_is_shown(
    tmp_path: Path,
) -> None:
    found = before(lambda: read_journal(tmp_path / "gone.db", PAST), first=1.0)
    shown = happened([Record(Told.ALARM, "now", 0.0, 3.0)], {}, 0.0, found)
    assert shown["trouble"] == "the journal's file is not read: there is no such file"
    assert [r["words"] for r in shown["records"]] == ["now"]
