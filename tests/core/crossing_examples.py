"""Worked examples of crossings: small studios, the change wanted, the legs expected."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from bridge.core.control import Control, Kind
from bridge.core.graph import Gate
from bridge.core.leg import Helper
from bridge.core.wire import Value
from tests.core.sketch import Sketch, gated, selector, switch
from tests.fakes.gain_judge import Bench, Floor, Limit

HALF_DB = -6.0206
"""An amplitude of one half."""

Wire = tuple[str, str, *tuple[Gate, ...]]


@dataclass(frozen=True)
class Example:
    """legs: for each leg its "control value" words; None: there is no safe order."""

    name: str
    bench: Bench
    start: Mapping[str, Value]
    goal: Mapping[str, Value]
    legs: Sequence[frozenset[str]] | None
    helpers: Sequence[Helper] = ()
    colliding: Sequence[str] = field(default=())


def bench(
    nodes: str,
    wires: Sequence[Wire],
    controls: Sequence[Control],
    never: Sequence[tuple[str, str, str, float]] = (),
    keep: Sequence[tuple[str, str, str, float]] = (),
) -> Bench:
    """A bench from names; the nodes are listed in the direction of flow."""
    sketch = Sketch()
    for name in nodes.split():
        sketch.node(name)
    for source, target, *gates in wires:
        sketch.edge(source, target, 0.0, 0.0, *gates)
    studio = sketch.studio(*controls)
    at = sketch.nodes
    return Bench(
        studio.controls,
        studio.graph,
        tuple(Limit(name, at[a], at[b], most) for name, a, b, most in never),
        tuple(Floor(name, at[a], at[b], least) for name, a, b, least in keep),
    )


def legs(*words: str) -> list[frozenset[str]]:
    """Legs written as "a off, b on" each."""
    return [frozenset(leg.split(", ")) for leg in words]


def b1() -> Example:
    """The talkback leaves the speakers as the microphone goes live."""
    names = ("guest to main", "speakers", "mic", "main to return")
    return Example(
        "B1",
        bench(
            "guest mic main room return self",
            [
                ("guest", "main", gated("guest to main")),
                ("mic", "main", gated("mic")),
                ("main", "room", gated("speakers")),
                ("main", "return", gated("main to return")),
            ],
            [switch(name) for name in names],
            never=[
                ("guest hears self", "guest", "return", 0.0),
                ("howl", "mic", "room", 0.0),
            ],
        ),
        dict(zip(names, (True, True, False, False), strict=True)),
        dict(zip(names, (False, False, True, True), strict=True)),
        legs("guest to main off, speakers off", "mic on, main to return on"),
    )


def b2() -> Example:
    """A guest's return moves from main to a clean bus, then the guest enters main."""
    names = ("clean to return", "main to return", "guest to main")
    return Example(
        "B2",
        bench(
            "host guest main clean return recorder",
            [
                ("host", "main"),
                ("host", "clean"),
                ("guest", "main", gated("guest to main")),
                ("main", "return", gated("main to return")),
                ("clean", "return", gated("clean to return")),
                ("main", "recorder"),
            ],
            [switch(name) for name in names],
            never=[("guest hears self", "guest", "return", 0.0)],
            keep=[
                ("guest hears host", "host", "return", 0.9),
                ("recorder hears host", "host", "recorder", 0.9),
            ],
        ),
        dict(zip(names, (False, True, False), strict=True)),
        dict(zip(names, (True, False, True), strict=True)),
        legs("clean to return on", "main to return off", "guest to main on"),
    )


def b3() -> Example:
    """Headphones and a live microphone become speakers and a muted one."""
    names = ("mic", "speakers", "headphones")
    return Example(
        "B3",
        bench(
            "guest mic monitor room ear",
            [
                ("mic", "monitor", gated("mic")),
                ("guest", "monitor"),
                ("monitor", "room", gated("speakers")),
                ("room", "ear"),
                ("monitor", "ear", gated("headphones")),
            ],
            [switch(name) for name in names],
            never=[("howl", "mic", "room", 0.0)],
            keep=[("host hears guest", "guest", "ear", 0.9)],
        ),
        dict(zip(names, (True, False, True), strict=True)),
        dict(zip(names, (False, True, False), strict=True)),
        legs("mic off", "speakers on", "headphones off"),
    )


def b4() -> Example:
    """The same with one changeover relay that makes before it breaks."""
    return Example(
        "B4",
        bench(
            "guest mic monitor room ear",
            [
                ("mic", "monitor", gated("mic")),
                ("guest", "monitor"),
                ("monitor", "room", gated("relay", "pulled")),
                ("room", "ear"),
                ("monitor", "ear", gated("relay", "rest")),
            ],
            [switch("mic"), selector("relay", "rest", "pulled")],
            never=[("howl", "mic", "room", 0.0)],
            keep=[("host hears guest", "guest", "ear", 0.9)],
        ),
        {"mic": True, "relay": "rest"},
        {"mic": False, "relay": "pulled"},
        legs("mic off", "relay pulled"),
    )


def b5(rungs: int) -> Example:
    """A ladder: each message waits for the one before it, by never and keep in turn."""
    names = [f"m{i}" for i in range(rungs)]
    start = {name: i % 2 == 0 for i, name in enumerate(names)}
    goal = {name: not value for name, value in start.items()}
    wires: list[Wire] = []
    never, keep, nodes = [], [], []
    for rung, (one, other) in enumerate(pairwise(names)):
        a, b, c = f"a{rung}", f"b{rung}", f"c{rung}"
        nodes += [a, b, c]
        if start[one]:  # a cut, then an open: never both on
            wires += [(a, b, gated(one)), (b, c, gated(other))]
            never.append((f"never {rung}", a, c, 0.0))
        else:  # an open, then a cut: one of them on
            wires += [(a, c, gated(one)), (a, c, gated(other))]
            keep.append((f"keep {rung}", a, c, 0.9))
    controls = [switch(name) for name in names]
    words = [f"{name} {'on' if goal[name] else 'off'}" for name in names]
    return Example(
        f"B5, {rungs} rungs",
        bench(" ".join(nodes), wires, controls, never, keep),
        start,
        goal,
        legs(*words),
    )


def b6(*helpers: Helper) -> Example:
    """A recorder's feed goes from one bus to another; both at once would clip."""
    trim = Control("trim", "trim", "desk", Kind.LEVEL, (HALF_DB, 0.0))
    expected = legs("trim -6.0206", "b on", "a off", "trim 0.0")
    return Example(
        "B6",
        bench(
            "host busA busB sum recorder",
            [
                ("host", "busA"),
                ("host", "busB"),
                ("busA", "sum", gated("a")),
                ("busB", "sum", gated("b")),
                ("sum", "recorder", Gate("trim", None)),
            ],
            [switch("a"), switch("b"), trim],
            never=[("recorder clips", "host", "recorder", 1.5)],
            keep=[("recorder hears host", "host", "recorder", 0.4)],
        ),
        {"a": True, "b": False, "trim": 0.0},
        {"a": False, "b": True},
        expected if helpers else None,
        helpers,
        ("recorder clips", "recorder hears host"),
    )


def b6b(*helpers: Helper) -> Example:
    """A changeover with a gap, written as two messages that must not overlap."""
    return Example(
        "B6b",
        bench(
            "host busA busB short recorder",
            [
                ("host", "busA"),
                ("busA", "recorder", gated("a")),
                ("busA", "busB", gated("a")),
                ("busB", "short", gated("b")),
                ("host", "recorder", gated("b")),
                ("host", "recorder", gated("direct")),
            ],
            [switch("a"), switch("b"), switch("direct")],
            never=[("buses short", "busA", "short", 0.0)],
            keep=[("recorder hears host", "host", "recorder", 0.9)],
        ),
        {"a": True, "b": False, "direct": False},
        {"a": False, "b": True},
        legs("direct on", "a off", "b on", "direct off") if helpers else None,
        helpers,
        ("buses short", "recorder hears host"),
    )


def b6_gap(*helpers: Helper) -> Example:
    """The same changeover as one selector that breaks before it makes."""
    return Example(
        "B6b, one selector",
        bench(
            "host recorder",
            [
                ("host", "recorder", gated("feed", "a")),
                ("host", "recorder", gated("feed", "b")),
                ("host", "recorder", gated("direct")),
            ],
            [selector("feed", "a", "b", gap=True), switch("direct")],
            keep=[("recorder hears host", "host", "recorder", 0.9)],
        ),
        {"feed": "a", "direct": False},
        {"feed": "b"},
        legs("direct on", "feed b", "direct off") if helpers else None,
        helpers,
        ("recorder hears host",),
    )


def b7(*helpers: Helper) -> Example:
    """Two guests change places on two buses; guest 1 must keep hearing guest 2."""
    switches = ("one on a", "one on b", "two on a", "two on b", "two hears")
    return Example(
        "B7",
        bench(
            "one two a b ear1 ear2",
            [
                ("one", "a", gated("one on a")),
                ("one", "b", gated("one on b")),
                ("two", "a", gated("two on a")),
                ("two", "b", gated("two on b")),
                ("a", "ear1", gated("return 1", "a")),
                ("b", "ear1", gated("return 1", "b")),
                ("a", "ear2", gated("return 2", "a"), gated("two hears")),
                ("b", "ear2", gated("return 2", "b"), gated("two hears")),
            ],
            [
                *(switch(name) for name in switches),
                selector("return 1", "a", "b"),
                selector("return 2", "a", "b"),
            ],
            never=[
                ("guest 1 hears self", "one", "ear1", 0.0),
                ("guest 2 hears self", "two", "ear2", 0.0),
            ],
            keep=[("guest 1 hears guest 2", "two", "ear1", 0.9)],
        ),
        dict(zip(switches, (True, False, False, True, True), strict=True))
        | {"return 1": "b", "return 2": "a"},
        dict(zip(switches[:4], (False, True, True, False), strict=True))
        | {"return 1": "a", "return 2": "b"},
        legs(
            "one on a off, two hears off",
            "two on a on, return 2 b",
            "return 1 a",
            "two on b off, one on b on",
            "two hears on",
        )
        if helpers
        else None,
        helpers,
        ("guest 1 hears guest 2", "guest 2 hears self"),
    )


def b9(*helpers: Helper) -> Example:
    """Two selectors cross; one in the old and one in the new position is forbidden."""
    return Example(
        "B9",
        bench(
            "talk x y bed",
            [
                ("talk", "x", gated("mute")),
                ("x", "bed", gated("left", "a"), gated("right", "b")),
                ("x", "bed", gated("left", "b"), gated("right", "a")),
            ],
            [selector("left", "a", "b"), selector("right", "a", "b"), switch("mute")],
            never=[("bed hears talk", "talk", "bed", 0.0)],
        ),
        {"left": "a", "right": "a", "mute": True},
        {"left": "b", "right": "b"},
        legs("mute off", "left b, right b", "mute on") if helpers else None,
        helpers,
        ("bed hears talk",),
    )
