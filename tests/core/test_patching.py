"""Cables: for each rule a patch that breaks it and one that does not, and the values.

Connector facts are common practice, no source. Values: ITU-R BS.645-2 (alignment and
permitted maximum), the bridging formula 20 log(Zin / (Zin + Zout)) as printed with
"ten times is bridging", and the 11.78 dB between +4 dBu and -10 dBV.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from bridge.core.finding import Finding, Place, Severity
from bridge.core.jacks import Box, Cable, Jack, Level, Patch, Phantom, Way
from bridge.core.panning import Pan, Side
from bridge.core.patching import RULES, patch_findings
from bridge.core.units import dbv_to_dbu

PLACE = Place("studio.yaml", 7, 3, 9)
LEVELS = {"+4 dBu": 4.0, "-10 dBV": dbv_to_dbu(-10.0)}


def jack(name: str, *, out: bool = False, lanes: int = 1, **more: object) -> Jack:
    """A balanced line jack, unless more is said."""
    words = str(more.pop("level", "+4 dBu"))
    level = Level(words) if words in {each.value for each in Level} else Level.LINE
    known: dict[str, object] = {
        "sockets": lanes,
        "connector": "6.3 mm TRS",
        "balanced": True,
        "nominal_db": LEVELS.get(words),
        "phantom": Phantom.HARMED if out else Phantom.NONE,
        **more,
    }
    gear = name.partition(".")[0]
    return Jack(name, gear, out, lanes, level=level, level_words=words, **known)  # type: ignore[arg-type]


def patch(jacks: Sequence[Jack], *cables: str, boxes: Sequence[Box] = ()) -> Patch:
    """A patch from cables as they are written: "a.out -> b.in", "a.out L -> b.in R"."""
    known = {box.name: box for box in boxes}
    for each in jacks:
        known.setdefault(each.gear, Box(each.gear, "other"))
    return Patch({each.name: each for each in jacks}, known, tuple(map(cable, cables)))


def cable(text: str) -> Cable:
    text, _, length = text.partition(" over ")
    ends = []
    for end in text.split(" -> "):
        name, _, lane = end.rpartition(" ")
        ends.append((name, "LR".index(lane)) if lane in ("L", "R") else (end, None))
    (source, near), (target, far) = ends
    return Cable(source, target, near, far, float(length) if length else None)


def rules(it: Patch) -> set[str]:
    return {finding.rule for finding in patch_findings(it)}


def only(it: Patch) -> Finding:
    (finding,) = patch_findings(it)
    return finding


def box(name: str, kind: str, *ways: tuple[str, str] | Way) -> Box:
    """Passive gear."""
    made = [way if isinstance(way, Way) else Way(*way) for way in ways]
    return Box(name, kind, passive=True, ways=tuple(made))


LINE_OUT = jack("player.out", out=True)
LINE_IN = jack("desk.in")
STEREO_OUT = jack("player.out", out=True, lanes=2)
STEREO_IN = jack("desk.in", lanes=2)
PHONES_OUT = jack(
    "laptop.out",
    out=True,
    lanes=2,
    sockets=1,
    connector="3.5 mm TRS",
    level="headphones",
    balanced=False,
)
MIC_IN = jack("desk.in", connector="combo", level="mic", phantom=Phantom.SWITCHED)
SPLIT = box("split", "other", ("split.in", "split.one"), ("split.in", "split.two"))
SPLIT_JACKS = (
    jack("split.in"),
    jack("split.one", out=True),
    jack("split.two", out=True),
)


def position(value: str) -> dict[str, frozenset[str]]:
    return {"relay: position": frozenset({value})}


def relay(*ways: Way) -> Box:
    return box("relay", "changeover", *ways)


def test_two_jacks_of_one_kind_are_left_alone() -> None:
    assert patch_findings(patch([LINE_OUT, LINE_IN], "player.out -> desk.in")) == ()
    it = patch([STEREO_OUT, STEREO_IN], "player.out -> desk.in")
    assert patch_findings(it) == ()


def test_every_rule_has_an_id_of_its_own_a_why_and_a_source() -> None:
    assert len({rule.id for rule in RULES}) == len(RULES) == 17
    assert all(rule.why and rule.source for rule in RULES)


# Plugs and lanes


def test_digital_and_analogue_jacks_have_no_cable() -> None:
    usb = jack("desk.in", connector="USB", level="digital", balanced=False)
    found = only(patch([LINE_OUT, usb], "player.out -> desk.in"))
    assert (found.rule, found.severity) == ("connector-misfit", Severity.ERROR)
    assert found.note == "desk.in carries digital sound and the other does not"
    out = jack("player.out", out=True, connector="USB", level="digital")
    assert rules(patch([out, usb], "player.out -> desk.in")) == set()


def test_two_digital_forms_have_no_cable() -> None:
    out = jack("player.out", out=True, connector="optical", level="digital")
    usb = jack("desk.in", connector="USB", level="digital")
    assert only(patch([out, usb], "player.out -> desk.in")).note == (
        "the two carry digital sound in different forms"
    )


def test_a_stereo_plug_in_a_balanced_mono_jack_loses_the_centre() -> None:
    found = [
        each
        for each in patch_findings(
            patch([PHONES_OUT, LINE_IN], "laptop.out -> desk.in")
        )
        if each.rule == "balanced-stereo"
    ]
    assert [each.severity for each in found] == [Severity.ERROR]
    assert "left minus right, and the centre is gone" in found[0].message
    split = patch(
        [PHONES_OUT, STEREO_IN],
        "laptop.out L -> desk.in L",
        "laptop.out R -> desk.in R",
    )
    assert "balanced-stereo" not in rules(split)


def test_a_balanced_output_in_a_stereo_jack_turns_one_side_upside_down() -> None:
    stereo = jack("camera.in", lanes=2, sockets=1, connector="3.5 mm TRS")
    found = only(patch([LINE_OUT, stereo], "player.out -> camera.in"))
    assert (found.rule, found.severity) == ("balanced-stereo", Severity.ADVICE)


def test_left_into_right_is_swapped() -> None:
    jacks = [STEREO_OUT, STEREO_IN]
    swapped = patch(jacks, "player.out L -> desk.in R", "player.out R -> desk.in L")
    assert [f.rule for f in patch_findings(swapped)] == ["lane-swapped"] * 2
    straight = patch(jacks, "player.out L -> desk.in L", "player.out R -> desk.in R")
    assert patch_findings(straight) == ()


def panned(one: Side, other: Side, *cables: str, **more: object) -> Patch:
    """A stereo player on two strips of one lane, with their pan knobs so."""
    jacks = [STEREO_OUT, jack("desk.one"), jack("desk.two")]
    said = cables or ("player.out L -> desk.one", "player.out R -> desk.two")
    pans = {"desk.one": Pan(one, PLACE), "desk.two": Pan(other, PLACE)}
    return replace(patch(jacks, *said, **more), pans=pans)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("one", "other", "heard"),
    [
        (Side.LEFT, Side.LEFT, "both are on one side, and the right stays silent"),
        (Side.RIGHT, Side.LEFT, "left and right are swapped"),
        (Side.LEFT, Side.CENTRE, "R is not on its own side"),
        (Side.RIGHT, Side.RIGHT, "both are on one side, and the left stays silent"),
        (Side.CENTRE, Side.CENTRE, "both are in the centre, and heard as one"),
    ],
)
def test_a_lane_panned_to_the_wrong_side_is_seen(
    one: Side, other: Side, heard: str
) -> None:
    found = only(panned(one, other))
    assert (found.rule, found.place) == ("lane-panned", PLACE)
    assert found.message == f"player.out is stereo on strips of one lane: {heard}"
    assert found.cure.endswith("write pan: {one: left, two: right} for the desk")
    assert patch_findings(panned(Side.LEFT, Side.RIGHT)) == ()


def test_crossed_cables_and_crossed_knobs_are_right_again() -> None:
    cables = ("player.out L -> desk.two", "player.out R -> desk.one")
    assert patch_findings(panned(Side.RIGHT, Side.LEFT, *cables)) == ()
    assert "swapped" in only(panned(Side.LEFT, Side.RIGHT, *cables)).message


def test_pan_is_followed_through_passive_gear() -> None:
    """A split cable swaps the lanes, and one knob would be right without it."""
    ends = [jack("split.a", out=True), jack("split.b", out=True)]
    ways = [
        Way("split.in", "split.a", source_lane=1),
        Way("split.in", "split.b", source_lane=0),
    ]
    cables = ("player.out -> split.in", "split.a -> desk.one", "split.b -> desk.two")
    it = panned(Side.LEFT, Side.RIGHT, *cables, boxes=[box("split", "other", *ways)])
    more = {each.name: each for each in (jack("split.in", lanes=2), *ends)}
    found = only(replace(it, jacks={**it.jacks, **more}))
    assert found.message.endswith("left and right are swapped")


def test_one_lane_without_a_cable_is_lost() -> None:
    found = only(patch([STEREO_OUT, LINE_IN], "player.out L -> desk.in"))
    assert found.rule == "lane-lost"
    assert found.message == "player.out has a cable on one lane only: R is lost"


def test_a_long_unbalanced_cable_is_said() -> None:
    out = jack("player.out", out=True, connector="RCA", balanced=False)
    found = only(patch([out, LINE_IN], "player.out -> desk.in over 6"))
    assert (found.rule, found.measured) == ("long-unbalanced", "6 m")
    assert rules(patch([out, LINE_IN], "player.out -> desk.in over 5")) == set()
    assert rules(patch([LINE_OUT, LINE_IN], "player.out -> desk.in over 30")) == set()


# Outputs that meet, and rings


def test_left_and_right_into_one_input_are_two_outputs_on_one_wire() -> None:
    found = only(patch([STEREO_OUT, LINE_IN], "player.out -> desk.in"))
    assert (found.rule, found.severity) == ("outputs-joined", Severity.ADVICE)
    two = [jack("desk.in 1"), jack("desk.in 2")]
    apart = patch(
        [STEREO_OUT, *two], "player.out L -> desk.in 1", "player.out R -> desk.in 2"
    )
    assert rules(apart) == set()


def join(one: str, other: str) -> Patch:
    """Two outputs into a relay with one way out, each at its position."""
    way_a = Way("relay.a", "relay.out", position(one))
    way_b = Way("relay.b", "relay.out", position(other))
    jacks = [
        LINE_OUT,
        jack("radio.out", out=True),
        jack("relay.a"),
        jack("relay.b"),
        jack("relay.out", out=True),
        LINE_IN,
    ]
    cables = ("player.out -> relay.a", "radio.out -> relay.b", "relay.out -> desk.in")
    return patch(jacks, *cables, boxes=[relay(way_a, way_b)])


def test_two_outputs_joined_by_a_passive_box_are_found() -> None:
    found = only(join("left", "left"))
    assert (found.rule, found.severity) == ("outputs-joined", Severity.ERROR)
    assert found.message == (
        "player.out and radio.out are two outputs on one wire, joined in relay"
    )


def test_a_relay_that_takes_one_at_a_time_joins_nothing() -> None:
    assert rules(join("left", "right")) == set()


def test_a_ring_names_what_closes_it() -> None:
    ways = (
        Way("desk.in", "desk.bus", {"desk: in to bus": frozenset({True})}),
        Way("desk.bus", "desk.out"),
    )
    jacks = [jack("desk.in"), jack("desk.out", out=True)]
    desk = Box("desk", "desk", ways=ways)
    found = only(patch(jacks, "desk.out -> desk.in", boxes=[desk]))
    assert (found.rule, found.severity) == ("ring-of-cables", Severity.ADVICE)
    assert "desk.in -> desk.bus -> desk.out -> desk.in" in found.message
    assert found.cure.startswith("never let all of these be: desk: in to bus is on")
    other = [*jacks, jack("recorder.in")]
    assert rules(patch(other, "desk.out -> recorder.in", boxes=[desk])) == set()


def test_a_ring_that_no_position_can_close_is_none() -> None:
    ways = (
        Way("relay.in", "relay.mid", position("left")),
        Way("relay.mid", "relay.out", position("right")),
    )
    jacks = [jack("relay.in"), jack("relay.out", out=True)]
    it = patch(jacks, "relay.out -> relay.in", boxes=[Box("relay", "other", ways=ways)])
    assert rules(it) == set()


# Levels


def test_consumer_into_professional_is_11_8_db_too_soft_and_back_too_loud() -> None:
    out = jack("player.out", out=True, level="-10 dBV", connector="RCA", balanced=False)
    found = only(patch([out, LINE_IN], "player.out -> desk.in"))
    assert (found.rule, found.measured) == ("levels-differ", "-11.8 dB")
    assert "line amplifier of 12 dB" in found.cure
    low = jack("desk.in", level="-10 dBV", connector="RCA", balanced=False)
    found = only(patch([LINE_OUT, low], "player.out -> desk.in"))
    assert (found.measured, "a pad of 12 dB" in found.cure) == ("+11.8 dB", True)
    assert rules(patch([out, low], "player.out -> desk.in")) == set()


def test_a_level_is_followed_through_a_split_cable() -> None:
    low = jack("desk.in", level="-10 dBV")
    it = patch(
        [LINE_OUT, *SPLIT_JACKS, low],
        "player.out -> split.in",
        "split.two -> desk.in",
        boxes=[SPLIT],
    )
    assert only(it).message.startswith("player.out gives +4 dBu and desk.in takes")


def test_a_pad_on_the_way_takes_the_step_away() -> None:
    pad = box("pad", "other", ("pad.in", "pad.out"))
    low = jack("desk.in", level="-10 dBV", connector="RCA", balanced=False)
    out = jack("pad.out", out=True, level="-10 dBV", connector="RCA", balanced=False)
    cables = ("player.out -> pad.in", "pad.out -> desk.in")
    assert rules(patch([LINE_OUT, jack("pad.in"), out, low], *cables, boxes=[pad])) == (
        set()
    )
    # and where it is not wanted it is too much
    found = only(patch([LINE_OUT, jack("pad.in"), out, LINE_IN], *cables, boxes=[pad]))
    assert (found.rule, found.measured) == ("levels-differ", "-11.8 dB")


@pytest.mark.parametrize(
    ("source", "target", "says"),
    [
        ("mic", "+4 dBu", "far too soft"),
        ("+4 dBu", "mic", "far too loud"),
        ("headphones", "mic", "far too loud"),
        ("headphones", "+4 dBu", "its level is what its knob says"),
    ],
)
def test_sorts_of_level_that_do_not_fit(source: str, target: str, says: str) -> None:
    jacks = [jack("player.out", out=True, level=source), jack("desk.in", level=target)]
    found = only(patch(jacks, "player.out -> desk.in"))
    assert (found.rule, says in found.message) == ("levels-differ", True)


def test_digital_alignments_of_18_and_20_db_below_full_scale_differ() -> None:
    def digital(name: str, dbfs: float, *, out: bool) -> Jack:
        return jack(name, out=out, connector="USB", level="digital", nominal_db=dbfs)

    def between(one: float, other: float) -> Patch:
        ends = [digital("pc.out", one, out=True), digital("desk.in", other, out=False)]
        return patch(ends, "pc.out -> desk.in")

    assert only(between(-18.0, -20.0)).measured == "+2.0 dB"
    assert rules(between(-18.0, -18.0)) == set()


def test_an_input_must_hold_nine_db_over_alignment() -> None:
    def into(most_db: float) -> Patch:
        return patch(
            [LINE_OUT, jack("desk.in", most_db=most_db)], "player.out -> desk.in"
        )

    assert only(into(12.9)).rule == "headroom-short"
    assert only(into(12.9)).measured == "8.9 dB"
    assert rules(into(13.0)) == set()


@pytest.mark.parametrize(
    ("own", "load", "loss"), [(600.0, 600.0, "6.0"), (150.0, 1000.0, "1.2")]
)
def test_a_load_under_ten_times_the_source_costs_level(
    own: float, load: float, loss: str
) -> None:
    # 600 into 600 ohm: -6.02 dB; 150 into 1000: 20 log(1000 / 1150) = -1.21 dB
    out = jack("player.out", out=True, impedance_ohm=own)
    found = only(
        patch([out, jack("desk.in", impedance_ohm=load)], "player.out -> desk.in")
    )
    assert found.rule == "loaded-down"
    assert f"down by {loss} dB" in found.message
    # ten to one is exactly -0.83 dB, and bridging
    assert found.limit == "at least 10 to 1 (-0.83 dB)"
    enough = jack("desk.in", impedance_ohm=10.0 * own)
    assert rules(patch([out, enough], "player.out -> desk.in")) == set()


def two_loads(one: str, other: str, kind: str) -> Patch:
    """One output of 500 ohm on two inputs of 8 kohm, through relay or split cable."""
    ways = (
        Way("relay.in", "relay.one", position(one)),
        Way("relay.in", "relay.two", position(other)),
    )
    jacks = [
        jack("player.out", out=True, impedance_ohm=500.0),
        jack("relay.in"),
        jack("relay.one", out=True),
        jack("relay.two", out=True),
        jack("desk.in", impedance_ohm=8000.0),
        jack("recorder.in", impedance_ohm=8000.0),
    ]
    cables = (
        "player.out -> relay.in",
        "relay.one -> desk.in",
        "relay.two -> recorder.in",
    )
    return patch(jacks, *cables, boxes=[box("relay", kind, *ways)])


def test_two_inputs_on_one_split_output_load_it_together() -> None:
    found = only(two_loads("both", "both", "other"))
    assert found.rule == "loaded-down"
    assert found.measured == "4000 ohm on 500 ohm, 8.0 to 1"


def test_two_inputs_behind_a_relay_load_it_one_at_a_time() -> None:
    assert rules(two_loads("left", "right", "changeover")) == set()


HEADPHONES = jack(
    "phones.in", lanes=2, sockets=1, level="headphones", impedance_ohm=64.0
)


def test_headphones_on_a_line_output_want_an_amplifier() -> None:
    found = only(patch([STEREO_OUT, HEADPHONES], "player.out -> phones.in"))
    assert (found.rule, found.severity) == ("headphones-on-line", Severity.ADVICE)
    amplifier = jack("amp.out", out=True, lanes=2, sockets=1, level="headphones")
    assert rules(patch([amplifier, HEADPHONES], "amp.out -> phones.in")) == set()


# Power


def test_speaker_level_goes_into_speakers_only() -> None:
    watts = jack("amp.out", out=True, level="speaker", connector="speaker terminals")
    found = only(patch([watts, LINE_IN], "amp.out -> desk.in"))
    assert (found.rule, found.severity) == ("speaker-level", Severity.ERROR)
    passive = jack("box.in", level="speaker", connector="speaker terminals")
    assert rules(patch([watts, passive], "amp.out -> box.in")) == set()
    assert rules(patch([LINE_OUT, passive], "player.out -> box.in")) == {
        "speaker-level"
    }


@pytest.mark.parametrize(
    ("phantom", "severity"),
    [(Phantom.SWITCHED, Severity.ADVICE), (Phantom.ALWAYS, Severity.ERROR)],
)
def test_phantom_power_onto_an_output(phantom: Phantom, severity: Severity) -> None:
    out = jack("player.out", out=True, connector="XLR")
    into = jack("desk.in", connector="combo", phantom=phantom)
    found = only(patch([out, into], "player.out -> desk.in"))
    assert (found.rule, found.severity) == ("phantom-onto-output", severity)


def test_a_combo_has_phantom_power_on_its_xlr_contacts_only() -> None:
    into = jack("desk.in", connector="combo", phantom=Phantom.SWITCHED)
    assert rules(patch([LINE_OUT, into], "player.out -> desk.in")) == set()


def test_phantom_power_goes_through_a_passive_box() -> None:
    out = jack("player.out", out=True, connector="XLR", level="mic")
    jacks = [
        out,
        *SPLIT_JACKS,
        jack("desk.in", connector="XLR", phantom=Phantom.ALWAYS),
    ]
    cables = ("player.out -> split.in", "split.one -> desk.in")
    it = patch(jacks, *cables, boxes=[SPLIT])
    assert "phantom-onto-output" in rules(it)


def test_a_microphone_bears_phantom_power_or_needs_it() -> None:
    def microphone(phantom: Phantom) -> Jack:
        return jack("mic.out", out=True, connector="XLR", level="mic", phantom=phantom)

    plain = jack("desk.in", connector="XLR", level="mic")
    bears = patch([microphone(Phantom.BEARS), MIC_IN], "mic.out -> desk.in")
    needs = patch([microphone(Phantom.NEEDS), MIC_IN], "mic.out -> desk.in")
    assert rules(bears) == rules(needs) == set()
    found = only(patch([microphone(Phantom.NEEDS), plain], "mic.out -> desk.in"))
    assert (found.rule, found.severity) == ("phantom-missing", Severity.ERROR)


def wearing(*impedances: float | None, least: float | None = 16.0) -> Patch:
    """Headphones on one output through a passive split."""
    out = jack(
        "amp.out",
        out=True,
        lanes=2,
        sockets=1,
        level="headphones",
        least_load_ohm=least,
    )
    split_in = jack("split.in", lanes=2, sockets=1, level="headphones")
    jacks, cables, ways = [out, split_in], ["amp.out -> split.in"], []
    for number, ohm in enumerate(impedances):
        name = f"split.{number}"
        jacks += [
            jack(name, out=True, lanes=2, sockets=1, level="headphones"),
            jack(
                f"phones {number}.in",
                lanes=2,
                sockets=1,
                level="headphones",
                impedance_ohm=ohm,
            ),
        ]
        cables.append(f"{name} -> phones {number}.in")
        ways.append(("split.in", name))
    return patch(jacks, *cables, boxes=[box("split", "other", *ways)])


def test_headphones_side_by_side_are_one_small_load() -> None:
    assert rules(wearing(32.0, 32.0)) == set()  # exactly 16 ohm
    found = only(wearing(32.0, 32.0, 32.0))
    assert (found.rule, found.severity) == ("headphones-too-many", Severity.ERROR)
    assert (found.measured, found.limit) == ("11 ohm", "at least 16 ohm")


def test_without_figures_many_headphones_are_doubtful_only() -> None:
    found = only(wearing(None, 32.0))
    assert (found.rule, found.severity) == ("headphones-too-many", Severity.ADVICE)
    assert rules(wearing(None)) == rules(wearing(32.0, least=None)) == set()


def test_a_passive_changeover_behind_a_headphone_output() -> None:
    way = Way("relay.in", "relay.out")
    relay_in = jack("relay.in", lanes=2, sockets=1)
    it = patch([PHONES_OUT, relay_in], "laptop.out -> relay.in", boxes=[relay(way)])
    assert rules(it) == {"changeover-after-headphone-output"}
    it = patch([STEREO_OUT, relay_in], "player.out -> relay.in", boxes=[relay(way)])
    assert rules(it) == set()
