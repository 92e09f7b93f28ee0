"""Power at jacks: speaker level, phantom power, and headphones side by side.

Connector facts are common practice, no source.
"""

from __future__ import annotations

import pytest

from bridge.core.finding import Severity
from bridge.core.jacks import Jack, Patch, Phantom, Way
from tests.fakes.patches import (
    LINE_IN,
    LINE_OUT,
    MIC_IN,
    PHONES_OUT,
    SPLIT,
    SPLIT_JACKS,
    STEREO_OUT,
    box,
    jack,
    only,
    patch,
    relay,
    rules,
)


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
