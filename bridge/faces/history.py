"""Read what the service has kept: what happened, how quick it was, what wears out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from bridge.core.entries import KINDS, Entry, Kept, NotAJournal, Question, Timed
from bridge.faces.latency_plot import ms_words, plot
from bridge.faces.opened import opened
from bridge.faces.outcome import CouldNotRunError, Exit, Outcome
from bridge.faces.scribe import INSTALLED, NAME, journal_path
from bridge.faces.since import since
from bridge.faces.svg_file import write_svg
from bridge.faces.tables import counted, draw
from bridge.files.near import did_you_mean, nearest_first
from bridge.wiring.journal import read_journal

LAST: Final = 20
"""Entries that are shown unless somebody says otherwise: they fit on a screen."""

_SHARES: Final = (("half", 50, 1), ("95_of_100", 95, 20), ("99_of_100", 99, 100))
"""What is told of many times: its name, of 100, and how many times it takes."""

NOT_FACT: Final = (
    "last that was believed (for a person to read; the service never takes it as fact,",
    "it asks the gear or believes nothing):",
)


@dataclass(frozen=True, slots=True)
class Asked:
    """The command line's words."""

    since: str | None = None
    told: tuple[str, ...] = ()
    scene: str | None = None
    last: str | None = None


def history(
    place: Path | None,
    asked: Asked,
    target: Path | None = None,
    *,
    clock: Callable[[], datetime] = lambda: datetime.now(UTC).astimezone(),
) -> Outcome:
    """Show the last entries that fit, how long scenes took, and what wears out.

    place: a journal; a studio for its part of the service's journal; None for all of
    that. target: an SVG file to draw the times into.
    Raises CouldNotRunError, FoundError.
    """
    question = _question(asked, clock())
    path, controls = journal_of(place)
    try:
        kept = read_journal(path, question)
    except NotAJournal as error:
        why = f"{path} is not read: {error}"
        raise CouldNotRunError(why, "name the FILE of treadle run --journal") from error
    _see_scene(asked.scene, kept)
    if controls is not None:
        kept = replace(
            kept,
            worn=tuple(worn for worn in kept.worn if worn.control in controls),
            held=tuple(held for held in kept.held if held.control in controls),
        )
    lines = _lines(path, kept)
    if asked == Asked(last=asked.last):
        lines += _held(kept)
    if target is not None:
        lines += ["", _drawn(target, kept.times)]
    return Outcome(Exit.FINE, "\n".join(lines), _data(path, kept))


def _question(asked: Asked, now: datetime) -> Question:
    for kind in asked.told:
        if kind not in KINDS:
            cure = did_you_mean(kind, KINDS) or f"known: {', '.join(KINDS)}"
            why = f'--told: nothing is told as "{kind}"'
            raise CouldNotRunError(why, cure)
    begin = None
    if asked.since is not None:
        found = since(asked.since, now)
        if isinstance(found, str):
            why = f'--since: "{asked.since}" is not understood'
            raise CouldNotRunError(why, found)
        begin = found.timestamp()
    return Question(begin, asked.told, asked.scene, _last(asked.last))


def _last(said: str | None) -> int | None:
    if said is None:
        return LAST
    if said == "all":
        return None
    if not (said.isascii() and said.isdigit() and 0 < int(said[:9]) < 1e9):
        why = f'--last: "{said}" is no number of entries'
        raise CouldNotRunError(why, 'write a number from 1 on, or "all"')
    return int(said[:9])


def journal_of(place: Path | None) -> tuple[Path, frozenset[str] | None]:
    """The journal to read, and whose controls in it; None: whoever's."""
    if place is not None and place.suffix not in (".yaml", ".yml"):
        return place, None
    controls = None
    if place is not None:
        controls = frozenset(opened(place).studio.controls)
    return journal_path(None) or INSTALLED / NAME, controls


def _see_scene(scene: str | None, kept: Kept) -> None:
    if scene is None or scene in kept.scenes:
        return
    known = ", ".join(nearest_first(scene, kept.scenes)) or "none"
    cure = did_you_mean(scene, kept.scenes) or f"kept are: {known}"
    why = f'--scene: nothing is kept of a scene "{scene}"'
    raise CouldNotRunError(why, cure)


# For people


def _lines(path: Path, kept: Kept) -> list[str]:
    shown = len(kept.entries)
    of_all = "" if shown == kept.matching else f" of {kept.matching:,}"
    count = counted(kept.matching, "entry").replace("entrys", "entries")
    noun = count.rpartition(" ")[2]
    lines = [f"{path}: {shown:,}{of_all} {noun}"]
    day = ""
    for entry in kept.entries:
        when = _local(entry.when)
        if f"{when:%Y-%m-%d}" != day:
            day = f"{when:%Y-%m-%d}"
            lines += ["", day]
        lines.append(f"  {f'{when:%H:%M:%S.%f}'[:12]}  {_told(entry)}")
    for title, chosen in (
        ("to the first message", [t.wire_ms for t in kept.times]),
        ("to the scene in force", [t.end_ms for t in kept.times]),
    ):
        known = [ms for ms in chosen if ms is not None]
        if known:
            lines += ["", f"from the press {title}, {counted(len(known), 'time')}:"]
            lines.append(f"  {_figures_words(known)}")
    return [*lines, *_worn(kept)]


def _told(entry: Entry) -> str:
    figures = ""
    if entry.end_ms is not None:
        figures = f"; {counted(entry.sent, 'message')}, {ms_words(entry.end_ms)}"
    cure = f"; cure: {entry.cure}" if entry.cure else ""
    return f"{entry.told:13} {entry.words}{figures}{cure}"


def _worn(kept: Kept) -> list[str]:
    if not kept.worn:
        return []
    rows = [
        (
            worn.control,
            f"{worn.operations:,}",
            f"{worn.life:,}",
            f"{worn.operations / worn.life:.1%}".replace("%", " %"),
            f"{_local(worn.since):%Y-%m-%d}",
        )
        for worn in kept.worn
    ]
    header = ("operations", "so far", "rated", "used", "counted since")
    return ["", *draw(header, rows, indent="")]


def _held(kept: Kept) -> list[str]:
    if not kept.held:
        return []
    rows = [
        (held.control, held.values, f"{_local(held.since):%Y-%m-%d %H:%M:%S}")
        for held in kept.held
    ]
    return ["", *NOT_FACT, *draw(("control", "value", "since"), rows, left=3)]


def figures(values: Sequence[float]) -> Mapping[str, float]:
    """Median, 95th and 99th of 100 where there are as many, and the worst.

    Each is one that was measured: the nearest rank.
    """
    ranked = sorted(values)
    found = {
        name: ranked[-int(-share * len(ranked) // 100) - 1]
        for name, share, least in _SHARES
        if len(ranked) >= least
    }
    return {**found, "worst": ranked[-1]}


def _figures_words(values: Sequence[float]) -> str:
    found = figures(values)
    parts = [
        f"{name.replace('_', ' ')} within {ms_words(found[name])}"
        for name, _, _ in _SHARES
        if name in found
    ]
    return ", ".join([*parts, f"worst {ms_words(found['worst'])}"])


def _local(when: float) -> datetime:
    return datetime.fromtimestamp(when, UTC).astimezone()


# For scripts, and the drawing


def _data(path: Path, kept: Kept) -> dict[str, object]:
    wire = [t.wire_ms for t in kept.times if t.wire_ms is not None]
    ends = [t.end_ms for t in kept.times]
    return {
        "journal": str(path),
        "matching": kept.matching,
        "entries": [_entry(entry) for entry in kept.entries],
        "first_message_ms": figures(wire) if wire else None,
        "in_force_ms": figures(ends) if ends else None,
        "worn": [
            {
                "control": worn.control,
                "operations": worn.operations,
                "rated": worn.life,
                "since": _iso(worn.since),
            }
            for worn in kept.worn
        ],
        "last_believed": [
            {"control": h.control, "values": h.values, "since": _iso(h.since)}
            for h in kept.held
        ],
    }


def _entry(entry: Entry) -> dict[str, object]:
    return {
        "when": _iso(entry.when),
        "told": entry.told,
        "words": entry.words,
        "scene": entry.scene,
        "controls": list(entry.controls),
        "rules": list(entry.rules),
        "people": list(entry.people),
        "cure": entry.cure,
        "messages": list(entry.messages),
        "sent": entry.sent,
        "first_message_ms": entry.wire_ms,
        "ended_ms": entry.end_ms,
    }


def _iso(when: float) -> str:
    return _local(when).isoformat(timespec="milliseconds")


def _drawn(target: Path, times: Sequence[Timed]) -> str:
    if not times:
        why = "--plot: nothing to draw: no scene came into force in what was asked for"
        raise CouldNotRunError(why, "ask for a longer time, or without --told")
    write_svg("--plot", target, plot(times))
    return f"{target}: {counted(len(times), 'crossing')} drawn"
