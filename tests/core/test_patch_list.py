"""What to lay, what to buy and in which order: common practice, no source."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.core.jacks import Box, Jack, Phantom, Wiring
from bridge.core.patch_list import Laid, Stage, laid, plugging_order, shopping
from bridge.core.plugs import Lead, lead
from tests.fakes.patches import (
    HEADPHONES,
    LINE_IN,
    LINE_OUT,
    MIC_IN,
    PHONES_OUT,
    SPLIT,
    SPLIT_JACKS,
    STEREO_IN,
    STEREO_OUT,
    cable,
    jack,
    patch,
)

MIC = jack("mic.out", out=True, connector="XLR", level="mic", phantom=Phantom.BEARS)
RCA_OUT = jack("player.out", out=True, lanes=2, connector="RCA", balanced=False)
USB_OUT = jack("pc.out", out=True, lanes=2, sockets=1, connector="USB", level="digital")
USB_IN = jack("desk.in", lanes=2, sockets=1, connector="USB", level="digital")
OWN_PLUG = replace(HEADPHONES, connector="fixed cable", plug="6.3 mm TRS")


def between(source: Jack, target: Jack) -> Lead:
    found = lead(source, target, cable(f"{source.name} -> {target.name}"))
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("source", "target", "pieces", "words"),
    [
        (MIC, MIC_IN, 1, "balanced cable, XLR female to XLR male"),
        (LINE_OUT, MIC_IN, 1, "balanced cable, 6.3 mm TRS to 6.3 mm TRS"),
        (LINE_OUT, LINE_IN, 1, "balanced cable, 6.3 mm TRS to 6.3 mm TRS"),
        (STEREO_OUT, STEREO_IN, 2, "balanced cable, 6.3 mm TRS to 6.3 mm TRS"),
        (RCA_OUT, STEREO_IN, 2, "unbalanced cable, RCA to 6.3 mm TS"),
        (PHONES_OUT, STEREO_IN, 1, "split stereo cable, 3.5 mm TRS to 6.3 mm TS"),
        (LINE_OUT, STEREO_IN, 1, "split balanced cable, 6.3 mm TRS to 6.3 mm TRS"),
        (USB_OUT, USB_IN, 1, "digital cable, USB to USB"),
    ],
)
def test_what_to_ask_for_in_a_shop(
    source: Jack, target: Jack, pieces: int, words: str
) -> None:
    found = between(source, target)
    assert (found.pieces, found.words, found.adapters) == (pieces, words, ())


def test_headphones_bring_their_own_cable_and_may_want_an_adapter() -> None:
    big = replace(PHONES_OUT, connector="6.3 mm TRS")
    assert between(big, OWN_PLUG) == Lead(
        0, ("6.3 mm TRS", "its own cable"), Wiring.STEREO
    )
    assert between(PHONES_OUT, OWN_PLUG).adapters == (
        "adapter, 6.3 mm TRS socket to 3.5 mm TRS plug",
    )
    assert between(STEREO_OUT, OWN_PLUG).adapters == (
        "split adapter, 6.3 mm TRS socket to two 6.3 mm TRS plugs",
    )


def test_a_balanced_output_on_an_unbalanced_input_says_so() -> None:
    low = jack("desk.in", connector="RCA", balanced=False)
    assert "cold leg" in between(LINE_OUT, low).note
    assert between(LINE_OUT, LINE_IN).note == ""


def numbers(rows: tuple[Laid, ...]) -> list[tuple[str, int]]:
    return [(row.number, row.lead.pieces if row.lead else -1) for row in rows]


def test_two_lanes_from_one_plug_are_one_split_cable() -> None:
    it = patch(
        [PHONES_OUT, jack("desk.in 1"), jack("desk.in 2")],
        "laptop.out L -> desk.in 1",
        "laptop.out R -> desk.in 2",
    )
    assert numbers(laid(it)) == [("1", 1), ("1", 0)]
    (item,) = shopping(it)
    assert (item.count, item.what) == (1, "split stereo cable, 3.5 mm TRS to 6.3 mm TS")


def test_two_lanes_from_two_sockets_are_two_cables() -> None:
    it = patch(
        [STEREO_OUT, jack("desk.in 1"), jack("desk.in 2")],
        "player.out L -> desk.in 1 over 3",
        "player.out R -> desk.in 2 over 3",
    )
    assert numbers(laid(it)) == [("1", 1), ("2", 1)]
    (item,) = shopping(it)
    assert item.count == 2
    assert item.what == "balanced cable, 6.3 mm TRS to 6.3 mm TRS, 3 m"
    assert item.where == ("1", "2")


def test_one_usb_cable_carries_everything_between_two_boxes() -> None:
    back = replace(USB_OUT, name="desk.out", gear="desk")
    takes = replace(USB_IN, name="pc.in", gear="pc")
    it = patch([USB_OUT, USB_IN, back, takes], "pc.out -> desk.in", "desk.out -> pc.in")
    assert numbers(laid(it)) == [("1", 1), ("1", 0)]
    assert [(item.count, item.what) for item in shopping(it)] == [
        (1, "digital cable, USB to USB")
    ]


def test_a_pad_is_on_the_list_where_a_level_is_too_loud_one_a_lane() -> None:
    low = replace(STEREO_IN, nominal_db=-7.78)
    pads = shopping(patch([STEREO_OUT, low], "player.out -> desk.in"))[1:]
    assert [(i.count, i.what) for i in pads] == [
        (2, "pad of 12 dB, or a trim that reaches as far")
    ]
    soft = replace(LINE_OUT, nominal_db=-7.78)
    weak = shopping(patch([soft, LINE_IN], "player.out -> desk.in"))[1]
    assert weak.what == "line amplifier of 12 dB, or a trim as strong"
    assert len(shopping(patch([LINE_OUT, LINE_IN], "player.out -> desk.in"))) == 1


def test_a_level_step_behind_a_split_cable_is_on_the_list_once() -> None:
    low = jack("recorder.in", nominal_db=-7.78)
    it = patch(
        [LINE_OUT, *SPLIT_JACKS, low],
        "player.out -> split.in",
        "split.one -> recorder.in",
        boxes=[SPLIT],
    )
    assert [i.where for i in shopping(it) if i.what.startswith("pad")] == [("1",)]


def test_the_order_is_quiet_first_and_speakers_and_headphones_last() -> None:
    needs = replace(MIC, phantom=Phantom.NEEDS)
    speakers = jack("speakers.in", lanes=2)
    line_out = jack("desk.out", out=True, lanes=2)
    amplifier = jack("amp.out", out=True, lanes=2, sockets=1, level="headphones")
    boxes = (
        Box("mic", "microphone"),
        Box("speakers", "speakers"),
        Box("phones", "headphones"),
    )
    it = patch(
        [needs, MIC_IN, line_out, speakers, amplifier, OWN_PLUG],
        "amp.out -> phones.in",
        "desk.out -> speakers.in",
        "mic.out -> desk.in",
        boxes=boxes,
    )
    assert [row.stage for row in laid(it)] == [
        Stage.HEADPHONES,
        Stage.SPEAKERS,
        Stage.MICROPHONES,
    ]
    steps = plugging_order(it, ("amp.level",))
    assert steps[0].startswith("switch everything off")
    assert "phantom power is off (desk.in)" in steps[1]
    assert steps[2].endswith("a knob or a fader and amp.level")
    assert steps[3:6] == (
        "plug the microphones: 3",
        "plug the speakers: 2",
        "plug the headphones: 1",
    )
    assert steps[7] == "switch phantom power on for mic.out only"


def test_without_phantom_power_nothing_is_said_about_it() -> None:
    steps = plugging_order(patch([LINE_OUT, LINE_IN], "player.out -> desk.in"), ())
    assert not any("phantom" in step for step in steps)
