"""Who hears what: a table for each scene, and every path of one pair.

Three figures, never mixed up. The *typical* level is the power sum of all arrivals:
sounds that went different ways seldom stay in step. The *limit* is the coherent sum of
everything, loops included: no state of the studio can be louder. The *delay* is that
of the strongest arrival.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from textwrap import fill

from bridge.core.belief import Belief, settled
from bridge.core.dose import CAUTION, listening_limits, listening_words, span_words
from bridge.core.explain import path_lines
from bridge.core.graph import Listener, Scale, Source
from bridge.core.hearing import Arrivals, Bound, Corner, lanes_together
from bridge.core.judge import HouseJudge
from bridge.core.rules.demands import PASCAL_DB_SPL
from bridge.core.settings import start
from bridge.core.studio import Studio
from bridge.core.units import OFF, decibels, delay_words, gain_words, sound_words
from bridge.faces.outcome import CouldNotRunError, Data, Exit, Outcome
from bridge.faces.tables import WIDTH, draw
from bridge.files.near import did_you_mean

MOST_PATHS_SHOWN = 12
"""Paths written out one by one; what they leave is told as one sum."""

LEGEND = """\
level   of all arrivals together as typically heard (power sum): at ears in
        dB SPL, in feeds in dB re nominal
delay   of the strongest arrival
never   no path carries it
*       the limit (everything in step, loops included) is over 1 dB higher
up to   a control on the way is not known; this is the loudest it can be
dBA     the level of speech, taken as A-weighted; for how long it may be heard a
        day by NIOSH, and a week by WHO/ITU-T H.870 for adults"""


BY_HAND = "as set by hand"
"""What stands for a scene in a studio that has none."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What one listener hears of one source, at the louder of their two ears."""

    source: Source
    listener: Listener
    arrivals: Arrivals
    surely: bool

    @property
    def typical_db(self) -> float:
        """Power sum of all arrivals, in the listener's scale; OFF if never."""
        powers = [path.gain**2 for path in self.arrivals.paths]
        rest = self.arrivals.remainder
        return self._shown(math.sqrt(sum(powers) + rest**2))

    @property
    def limit_db(self) -> float:
        """Coherent sum of everything, in the listener's scale; OFF if never."""
        return self._shown(self.arrivals.total)

    @property
    def remainder_db(self) -> float:
        """What comes round loops or is too weak to be listed; OFF if nothing."""
        return self._shown(self.arrivals.remainder)

    @property
    def delay_ms(self) -> float:
        """Delay of the strongest arrival; infinite if there is none."""
        paths = self.arrivals.paths
        return paths[0].delay_ms if paths else math.inf

    def _shown(self, gain: float) -> float:
        scale = PASCAL_DB_SPL if self.listener.scale is Scale.EAR else 0.0
        return decibels(gain) + scale if gain else OFF


def setting_of(studio: Studio, scene: str | None) -> Belief:
    """The belief after start-up and then this scene. Raises CouldNotRunError."""
    if scene is None:
        return start(studio).belief
    found = studio.scenes[named(scene, studio.scenes, "scene")]
    return settled(start(studio).belief, found.values)


def named(name: str, known: Iterable[str], what: str) -> str:
    """The name, if it is known. Raises CouldNotRunError with the known names."""
    names = tuple(known)
    if name in names:
        return name
    cure = did_you_mean(name, names) or f"known: {', '.join(names) or 'none'}"
    msg = f'{what} "{name}" is not in this studio'
    raise CouldNotRunError(msg, cure)


def heard(judge: HouseJudge, belief: Belief, source: Source, ear: Listener) -> Heard:
    """What this listener hears of this source in this belief."""
    loudest = judge.scope(belief, Bound.LOUDEST).corner
    quietest = judge.scope(belief, Bound.QUIETEST).corner
    return _heard(judge, loudest, quietest, source, ear)


def _heard(
    judge: HouseJudge, loud: Corner, quiet: Corner, source: Source, listener: Listener
) -> Heard:
    totals = loud.totals(source.nodes)
    node = max(listener.nodes, key=lambda n: totals.get(n, 0.0))
    least = quiet.totals(source.nodes).get(node, 0.0)
    surely = math.isclose(least, totals.get(node, 0.0), rel_tol=1e-9)
    arrivals = loud.arrivals(source.nodes, node)
    paths = lanes_together(judge.studio.graph, arrivals.paths)
    return Heard(source, listener, replace(arrivals, paths=paths), surely)


def all_heard(judge: HouseJudge, belief: Belief) -> tuple[tuple[Heard, ...], ...]:
    """One row for each listener, one entry for each source."""
    loudest = judge.scope(belief, Bound.LOUDEST).corner
    quietest = judge.scope(belief, Bound.QUIETEST).corner
    return tuple(
        tuple(
            _heard(judge, loudest, quietest, s, listener) for s in judge.studio.sources
        )
        for listener in judge.studio.listeners
    )


def hears(judge: HouseJudge, scene: str | None, width: int = WIDTH) -> Outcome:
    """The table of one scene, or of every scene in the file's order.

    A studio without scenes is all set by hand: then the table is of that.
    """
    studio = judge.studio
    names: list[str | None] = [scene] if scene is not None else [*studio.scenes]
    lines: list[str] = []
    tables: dict[str, Data] = {}
    safety: dict[str, Data] = {}
    for wanted in names or [None]:
        rows = all_heard(judge, setting_of(studio, wanted))
        ears = loudest(rows)
        title = f"scene {wanted}" if wanted else BY_HAND
        name = wanted or BY_HAND
        lines += [title, *table(rows, width), *_safe_lines(ears, width), ""]
        safety[name] = {h.listener.name: safety_data(h) for h in ears}
        tables[name] = {
            row[0].listener.name: {h.source.name: heard_data(h) for h in row}
            for row in rows
            if row
        }
    data = {"scenes": tables, "listening": safety, "caution": CAUTION}
    caution = fill(CAUTION, width, initial_indent="hearing ", subsequent_indent=" " * 8)
    return Outcome(Exit.FINE, "\n".join([*lines, LEGEND, caution]), data)


def table(rows: Sequence[Sequence[Heard]], width: int = WIDTH) -> list[str]:
    """Draw listeners by sources."""
    if not rows or not rows[0]:
        return ["  nobody listens, or nothing makes sound"]
    header = ["who hears", "", *(h.source.name for h in rows[0])]
    body = [
        [
            row[0].listener.name,
            "dB SPL" if row[0].listener.scale is Scale.EAR else "dB",
            *map(cell, row),
        ]
        for row in rows
    ]
    return draw(header, body, left=2, width=width)


def cell(here: Heard) -> str:
    """One entry: "74.0, 91.2 ms", "never"."""
    if not here.arrivals.total:
        return "never"
    if math.isinf(here.arrivals.total):
        return "howls"
    level, _, _ = _level_words(here, here.typical_db).partition(" ")
    mark = "*" if here.limit_db > here.typical_db + 1.0 else ""
    delay = f", {delay_words(here.delay_ms)}" if here.arrivals.paths else ""
    return f"{'' if here.surely else 'up to '}{level}{mark}{delay}"


def heard_data(here: Heard) -> Data:
    """The same for a script; null where nothing is heard."""
    ear = here.listener.scale is Scale.EAR
    return {
        "unit": "dB SPL" if ear else "dB",
        "level": round(here.typical_db, 3),
        "limit": round(here.limit_db, 3),
        "delay_ms": round(here.delay_ms, 3) if here.arrivals.paths else None,
        "known": here.surely,
    }


def loudest(rows: Sequence[Sequence[Heard]]) -> tuple[Heard, ...]:
    """For each person here who hears anything: what is loudest at their ears."""
    heard_here = (
        max(row, key=lambda h: h.typical_db, default=None)
        for row in rows
        if row and row[0].listener.scale is Scale.EAR
    )
    return tuple(h for h in heard_here if h is not None and h.arrivals.total)


def _safe_lines(ears: Sequence[Heard], width: int) -> list[str]:
    """How long each may listen to what is loudest, with speech at nominal level."""
    header = ["listening", "loudest", "dBA", "NIOSH a day", "WHO/ITU-T a week"]
    rows = [[h.listener.name, h.source.name, *_spans(h.typical_db)] for h in ears]
    return ["", *draw(header, rows, left=2, width=width)] if rows else []


def _spans(level_dba: float) -> tuple[str, str, str]:
    if math.isinf(level_dba):
        return "howls", "not at all", "not at all"
    minutes, hours = listening_limits(level_dba)
    day = "all day" if minutes is None else span_words(minutes)
    week = "all week" if hours is None else span_words(60.0 * hours)
    return f"{level_dba:.0f}", day, week


def safety_data(here: Heard) -> Data:
    """The same for a script; null where a day or a week sets no limit."""
    minutes, hours = listening_limits(here.typical_db)
    return {
        "source": here.source.name,
        "level": round(here.typical_db, 3),
        "minutes_a_day": minutes if minutes is None else round(minutes, 1),
        "hours_a_week": hours if hours is None else round(hours, 1),
        "words": "it howls: not at all"
        if math.isinf(here.typical_db)
        else listening_words(here.typical_db),
    }


def why(judge: HouseJudge, scene: str | None, source: str, listener: str) -> Outcome:
    """Every path from a source to a listener, edge by edge."""
    studio = judge.studio
    sources = {s.name: s for s in studio.sources}
    listeners = {x.name: x for x in studio.listeners}
    belief = setting_of(studio, scene)
    here = heard(
        judge,
        belief,
        sources[named(source, sources, "source")],
        listeners[named(listener, listeners, "listener")],
    )
    corner = judge.scope(belief, Bound.LOUDEST).corner
    name = scene or studio.start_scene
    when = f"in scene {name}" if name is not None else "after power-up"
    title = f"{listener} hears {source} {when}"
    paths = here.arrivals.paths
    if not here.arrivals.total:
        never = f"{title}: never, no path"
        text = "\n".join([never, *_elsewhere(judge, scene, here)])
        return Outcome(Exit.FINE, text, heard_data(here))
    lines = [f"{title}, {len(paths)} path{'' if len(paths) == 1 else 's'}:"]
    shown = [path_lines(studio, p, corner) for p in paths[:MOST_PATHS_SHOWN]]
    for number, edges in enumerate(shown, 1):
        lines += ["", f"path {number}", *(f"  {edge}" for edge in edges)]
    lines += ["", *_sums(here)]
    data = {**heard_data(here), "paths": shown, "remainder": here.remainder_db}
    return Outcome(Exit.FINE, "\n".join(lines), data)


def _elsewhere(judge: HouseJudge, scene: str | None, here: Heard) -> list[str]:
    """Where they are heard, for whoever has not named a scene."""
    studio = judge.studio
    if scene is not None or not studio.scenes:
        return []
    ends = (here.source, here.listener)
    settings = {name: setting_of(studio, name) for name in studio.scenes}
    names = [n for n, b in settings.items() if heard(judge, b, *ends).arrivals.total]
    if not names:
        return ["in no scene"]
    return [f"heard in: {', '.join(names)}; see it with --scene"]


def _sums(here: Heard) -> list[str]:
    left = len(here.arrivals.paths) - MOST_PATHS_SHOWN
    rows = [["as typically heard (power sum)", _level_words(here, here.typical_db)]]
    rows.append(["limit (all in step)", _level_words(here, here.limit_db)])
    if here.arrivals.remainder:
        words = "of it round loops, or too weak to list"
        rows.append([words, _level_words(here, here.remainder_db)])
    lines = draw(["sums", ""], rows)
    return [f"and {left} weaker paths", *lines] if left > 0 else lines


def _level_words(here: Heard, level_db: float) -> str:
    """A level in the listener's scale."""
    ear = here.listener.scale is Scale.EAR
    return sound_words(level_db) if ear else gain_words(level_db)
