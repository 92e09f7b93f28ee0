"""A desk that tells only those who follow it, over real wires, and `treadle try` at it.

The desk is the simulated one, a process of its own; it forgets who does not say again
that it is followed.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.faces.children import SimulatedDesk
from bridge.faces.stage import DESK, PEDAL
from bridge.faces.trial import Address, trial
from bridge.files.shelf import shipped_profiles
from tests.faces.services import SWITCHES, observatory, oscsend, running

FORGETS_S = 1.2
SHIPPED = shipped_profiles() / "desk-osc-followed.yaml"


@pytest.fixture
def desk() -> Iterator[SimulatedDesk]:
    asks = {f"{of}/ask": [of, f"{of}/is"] for of in SWITCHES}
    table = {"state": SWITCHES, "follow": ["/follow", FORGETS_S], "asks": asks}
    desk = SimulatedDesk(DESK, table)
    yield desk
    assert desk.end() == 0


def test_it_is_followed_for_as_long_as_it_runs(
    tmp_path: Path, desk: SimulatedDesk
) -> None:
    profile = SHIPPED.read_text("utf-8").replace("desk-osc-followed", "my-desk")
    assert "every: 3 s" in profile
    (tmp_path / "profiles").mkdir()
    (tmp_path / "profiles" / "my-desk.yaml").write_text(
        profile.replace("every: 3 s", "every: 500 ms"), "utf-8"
    )
    mine = ("{profile: desk-osc,", "{profile: my-desk,")
    place = observatory(tmp_path, mine, desk=desk.port)
    with running(place.file) as service:
        service.up()
        oscsend(place.pedal, PEDAL, "i", 1)
        oscsend(place.pedal, PEDAL, "i", 0)
        service.until("arrived", scene="phones")
        for _ in range(4):  # for longer than the desk remembers
            desk.next("followed")
        desk.order(hand="/strip/3/to/1", value=1)
        moved = service.until("moved by hand")
        assert moved["controls"] == ["desk: in 3/4 to program"]


def test_a_trial_follows_it_first_and_says_what_it_answers(
    desk: SimulatedDesk,
) -> None:
    prompts: list[str] = []

    def yes(prompt: str) -> str:
        prompts.append(prompt)
        return "yes"

    address = Address(osc=f"127.0.0.1:{desk.port}")
    outcome = trial(SHIPPED, "in 1 to program", "on", address, yes)
    assert prompts[0].startswith(
        "It tells only who follows it: /follow goes first, and again every 3 s.\n"
    )
    assert outcome.text.endswith("asked how it stands, it says: /strip/1/to/1/is = 1")
