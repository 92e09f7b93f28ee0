"""Lamps: what each state looks like, when it is told, and that it never comes first.

Outside facts: WCAG 2.3.1 (three flashes a second at the most), and the two rates of
flashing of IEC 60073, 24 to 48 and 84 to 168 a minute (from memory).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest

from bridge.core.effects import Light, PortFound, PortLost, Send, Wanted
from bridge.core.lamp import RHYTHMS, Lamp, Shows, Sign, is_lit, turns_in
from bridge.core.lamps import AGAIN_S, TOUCHED_S, Lamps, View, sign_of
from bridge.core.machine import Machine
from bridge.core.table import State
from bridge.core.wire import Message, Midi
from tests.fakes.stage import Stage
from tests.fakes.studio import JUDGE, navigator, studio

ON, OFF = Midi("pads", b"\x90\x24\x7f"), Midi("pads", b"\x90\x24\x00")
RED = Midi("pads", b"\x90\x24\x05")
BOTH = {Sign.DARK: (OFF,), Sign.LIT: (ON,)}
HERE = frozenset({"phones"})
START, REST = State.STARTING, State.RESTING
CROSS, HALT = State.CROSSING, State.HALTED


def lamp(
    *scenes: str, shows: Shows = Shows.SCENES, note: int = 0x24, **colours: Message
) -> Lamp:
    def told(data: bytes) -> tuple[Message, ...]:
        return (Midi("pads", bytes((0x90, note)) + data),)

    messages = {Sign.DARK: told(b"\x00"), Sign.LIT: told(b"\x7f")}
    messages |= {Sign(word): (message,) for word, message in colours.items()}
    return Lamp(f"pads.{note}", "pads", shows, scenes, messages)


PHONES = lamp("phones")
ANY = lamp("speakers", "phones")
ALL = lamp(shows=Shows.EVERYTHING)
WOE = lamp(shows=Shows.TROUBLE)


@pytest.mark.parametrize(
    ("view", "phones", "everything", "trouble"),
    [
        (
            View(State.STARTING, perhaps=HERE, is_absent=True),
            "unsure",
            "coming",
            "dark",
        ),
        (View(REST, sure=HERE), "lit", "lit", "dark"),
        (View(REST), "dark", "lit", "dark"),
        (View(REST, perhaps=HERE, is_unsure=True), "unsure", "unsure", "unsure"),
        (View(REST, sure=HERE, is_unsure=True), "lit", "unsure", "unsure"),
        (View(CROSS, heading="phones", is_unsure=True), "coming", "coming", "dark"),
        (View(CROSS, sure=HERE, heading="quiet"), "lit", "coming", "dark"),
        (View(REST, sure=HERE, is_broken=True), "fault", "fault", "fault"),
        (View(REST, sure=HERE, is_absent=True), "lit", "fault", "fault"),
        (View(HALT, perhaps=HERE, wanted="phones"), "fault", "fault", "fault"),
        (View(HALT, perhaps=HERE, wanted="quiet"), "unsure", "fault", "fault"),
        (View(HALT, wanted="quiet"), "dark", "fault", "fault"),
        (View(State.STOPPING, sure=HERE), "lit", "coming", "dark"),
        (View(State.STOPPED, sure=HERE, is_broken=True), "dark", "dark", "dark"),
    ],
)
def test_a_lamp_shows_what_is(
    view: View, phones: str, everything: str, trouble: str
) -> None:
    assert sign_of(PHONES, view).value == phones
    assert sign_of(ANY, view).value == phones
    assert sign_of(ALL, view).value == everything
    assert sign_of(WOE, view).value == trouble


def seen(sign: Sign) -> tuple[bool, ...]:
    """A sign as an eye sees it: four seconds in steps of 1/16."""
    return tuple(is_lit(sign, step / 16) for step in range(64))


def test_no_two_signs_look_alike_without_colours() -> None:
    for one, other in combinations(Sign, 2):
        differ = sum(a != b for a, b in zip(seen(one), seen(other), strict=True))
        assert differ >= 8, (one, other)  # half a second in four


def test_nothing_flashes_faster_than_is_safe() -> None:
    for sign, (turn, lit) in RHYTHMS.items():
        a_minute = 60 / turn
        assert a_minute <= 3 * 60
        assert 24 <= a_minute <= 48 or 84 <= a_minute <= 168
        assert (a_minute > 48) is (sign is Sign.FAULT)
        assert 0 < lit < turn


@pytest.mark.parametrize("sign", list(Sign))
def test_a_rhythm_changes_when_it_says_and_not_before(sign: Sign) -> None:
    now, was = 0.0, is_lit(sign, 0.0)
    assert was is (sign is not Sign.DARK)
    for _ in range(6):
        left = turns_in(sign, now)
        if left is None:
            assert set(seen(sign)) == {was}
            return
        assert is_lit(sign, now + left * 0.99) is was
        now += left
        assert is_lit(sign, now + 1e-9) is not was
        was = not was


# When it is told


def told(lamps: Lamps, view: View, now: float) -> list[Message]:
    return [m for light in lamps.look(view, now) for m in light.messages]


def test_only_what_differs_is_told_and_the_rest_now_and_then() -> None:
    lamps = Lamps([PHONES])
    assert told(lamps, View(REST, sure=HERE), 1.0) == [], "its pad is not there"
    lamps.found("pads")
    assert told(lamps, View(REST, sure=HERE), 2.0) == [ON]
    assert told(lamps, View(REST, sure=HERE), 3.0) == []
    assert lamps.due == 2.0 + AGAIN_S
    assert told(lamps, View(REST, sure=HERE), lamps.due) == [ON]
    assert told(lamps, View(REST), 40.0) == [OFF]


def test_a_pad_that_was_plugged_in_again_is_told_all_of_it() -> None:
    lamps = Lamps([PHONES, lamp("quiet", note=0x25)])
    lamps.found("pads")
    assert len(told(lamps, View(REST, sure=HERE), 1.0)) == 2
    lamps.lost("pads")
    assert told(lamps, View(REST), 2.0) == []
    lamps.found("pads")
    assert told(lamps, View(REST), 3.0) == [OFF, Midi("pads", b"\x90\x25\x00")]


def test_a_pad_that_was_touched_is_told_again_but_not_for_ever() -> None:
    lamps = Lamps([PHONES, lamp("quiet", note=0x25)])
    lamps.found("pads")
    told(lamps, View(REST, sure=HERE), 1.0)
    lamps.touched(Midi("pads", b"\x80\x24\x00"))
    assert lamps.due == 1.0 + TOUCHED_S
    assert told(lamps, View(REST, sure=HERE), lamps.due) == [ON]
    lamps.touched(ON)  # a wire that brings back what we say
    assert told(lamps, View(REST, sure=HERE), 1.01 + TOUCHED_S) == []
    lamps.touched(Midi("desk", b"\x90\x24\x00"))
    assert told(lamps, View(REST, sure=HERE), 2.0 + TOUCHED_S) == [ON]


def test_it_blinks_by_the_time_it_is_given_in_its_colour() -> None:
    lamps = Lamps([lamp("phones", fault=RED)])
    lamps.found("pads")
    view, now, found = View(REST, sure=HERE, is_broken=True), 7.0, []
    for _ in range(5):
        found.append((now, told(lamps, view, now)))
        now = lamps.due
    assert [messages for _, messages in found] == [[RED], [OFF]] * 2 + [[RED]]
    assert [at for at, _ in found] == [7.0, 7.25, 7.5, 7.75, 8.0]


# In the machine


def stage() -> Stage:
    here = studio(start="quiet")
    lamps = (lamp("phones"), replace(ALL, name="sign"))
    found = Stage(replace(here, lamps=lamps))
    found.start("desk", "strip", "relay", "pads")
    found.lights.clear()
    return found


def test_lamps_come_after_everything_that_is_sent() -> None:
    here = stage()
    effects = here.machine.handle(Wanted("phones"), here.now)
    kinds = [type(effect) for effect in effects]
    assert Light in kinds
    assert Send in kinds
    assert kinds.index(Light) > max(n for n, kind in enumerate(kinds) if kind is Send)


def test_a_scene_s_lamp_goes_from_coming_to_lit_and_dark_at_the_end() -> None:
    here = stage()
    here.go("phones")
    assert here.machine.signs == {"pads.36": Sign.COMING, "sign": Sign.COMING}
    here.run(3.0)
    assert here.machine.signs == {"pads.36": Sign.LIT, "sign": Sign.LIT}
    here.stop()
    here.run(3.0)
    assert here.state() is State.STOPPED
    last = {light.lamp: light.messages for _, light in here.lights}
    assert last == {"pads.36": (OFF,), "sign": (OFF,)}


def test_a_desk_that_is_unplugged_makes_one_unsure_and_is_a_fault() -> None:
    here = stage()
    here.go("phones")
    here.run(3.0)
    here.unplug()
    assert here.machine.signs == {"pads.36": Sign.UNSURE, "sign": Sign.FAULT}
    here.lights.clear()
    here.run(2.0)
    # 4 changes a second of the one that calls, 1 of the other.
    assert 8 <= sum(light.lamp == "sign" for _, light in here.lights) <= 9
    assert sum(light.lamp == "pads.36" for _, light in here.lights) <= 3


def test_a_pad_that_comes_later_is_told_and_again_when_it_comes_back() -> None:
    here = Stage(replace(studio(start="quiet"), lamps=(lamp("quiet"),)))
    here.start("desk", "strip", "relay")
    assert here.lights == []
    here.happen(PortFound("pads"))
    assert [light.messages for _, light in here.lights] == [(ON,)]
    here.happen(PortLost("pads", "the cable is out"))
    here.run(60.0)
    assert len(here.lights) == 1
    here.happen(PortFound("pads"))
    assert len(here.lights) == 2


def test_what_another_file_says_of_lamps_is_taken_over_and_the_others_go_dark() -> None:
    here = stage()
    here.go("phones")
    here.run(3.0)
    new = replace(here.studio, lamps=(lamp("phones"), lamp("quiet", note=0x25)))
    heir = Machine(new, JUDGE, navigator(new, JUDGE), here.now)
    kept = {"desk": "", "strip": "", "relay": "", "pads": ""}
    effects = heir.take_over(here.machine, kept)
    lights = [light for light in effects if isinstance(light, Light)]
    assert lights == [
        Light("sign", (OFF,)),
        Light("pads.36", (ON,)),
        Light("pads.37", (Midi("pads", b"\x90\x25\x00"),)),
    ]


def test_a_studio_without_lamps_is_never_woken_for_them() -> None:
    here = Stage(studio(start="quiet"))
    here.start()
    assert here.lights == []
    assert not here.machine.signs
