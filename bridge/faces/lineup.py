"""Line-up: what to turn, what to read, and what it should be."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from textwrap import wrap

from bridge.core.dose import CAUTION, listening_words
from bridge.core.graph import Transducer
from bridge.core.judge import HouseJudge
from bridge.core.lineup import Meter, Stop, stops
from bridge.core.metering import ALIGNMENT_DBFS
from bridge.core.readings import Reading
from bridge.core.studio import Studio
from bridge.core.units import gain_words
from bridge.faces.opened import refused
from bridge.faces.outcome import Data, Exit, FoundError, Outcome
from bridge.faces.report import shown
from bridge.files.studio import load

BEFORE = (
    "Everything down, headphones off the ears. Bring one thing up at a time, in this "
    "order: a stage is lined up only when the one before it is."
)


@dataclass(frozen=True, slots=True)
class Lined:
    """One stop with what was read there, if the file says it."""

    stop: Stop
    reading: Reading | None

    @property
    def level_db(self) -> float:
        """The level that holds: what was read, else what is expected."""
        return self.reading.level_db if self.reading else self.stop.expected_db


def lineup(path: Path, *, width: int) -> Outcome:
    """The order of steps to set levels. Raises FoundError or CouldNotRunError."""
    loaded = load(path)
    studio = loaded.described
    if studio is None:
        raise FoundError(refused(loaded))
    every = [
        Lined(stop, _reading_of(stop, loaded.readings))
        for stop in stops(HouseJudge(studio))
    ]
    text = "\n".join(_text(studio, every, width))
    return Outcome(Exit.FINE, text, _data(every), is_clean=True)


def _reading_of(stop: Stop, readings: Sequence[Reading]) -> Reading | None:
    key = (stop.source.name, stop.at, stop.scene)
    return next((r for r in readings if (r.source, r.at, r.scene) == key), None)


def _text(studio: Studio, every: Sequence[Lined], width: int) -> Iterator[str]:
    yield shown(f"Line-up of {studio.name}")
    yield ""
    yield from _wrapped("", CAUTION, width)
    yield ""
    yield from _wrapped("", BEFORE, width)
    yield from _wrapped("", _alignment(), width)
    yield ""
    for number, lined in enumerate(every, 1):
        yield from _wrapped(f"{number:2}. ", _do(studio, lined.stop), width)
        yield from _wrapped("    ", _read(lined), width)
    yield from _matches(studio, every, width)
    yield from _doses(every, width)
    yield ""
    yield "What you read goes into the studio file, and becomes the model's gains:"
    yield ""
    yield "readings:"
    for lined in every:
        yield shown(f"  {_key(lined.stop)}: {_file_level(lined)}")


def _alignment() -> str:
    return (
        f"0 dB is nominal level: {ALIGNMENT_DBFS:g} dBFS on a digital meter "
        "(EBU R 68), +4 dBu on a line of that level. The tone is 1 kHz, steady, at "
        "that level. Speak as on the air."
    )


def _do(studio: Studio, stop: Stop) -> str:
    """What to play or say, and what to turn."""
    name = stop.source.name
    is_mic = any(
        g.name == name and g.kind is Transducer.MICROPHONE for g in studio.air_gear
    )
    plays = f"speak into {name}" if is_mic else f"play the tone as {name}"
    if stop.source.person:
        plays = f"{name} speaks"
    scene = "" if stop.scene is None else f"go to scene {stop.scene}; "
    match stop.meter:
        case Meter.STRIP:
            return f"{plays}; turn the trim of {stop.through}"
        case Meter.FEED:
            return f"{scene}{plays}; read the level that {stop.at} gets"
        case Meter.EAR:
            kind = next(g.kind.value for g in studio.air_gear if g.name == stop.through)
            how = (
                "hold a sound level meter (A, slow) where the head is"
                if kind == "speakers"
                else "on an ear simulator, or by ear as loud as the speakers"
            )
            return f"{scene}{plays}; turn {stop.through} ({stop.at}: {how})"


def _read(lined: Lined) -> str:
    expected = f"expected: {_level(lined.stop, lined.stop.expected_db)}"
    if lined.reading is None:
        return expected
    step = lined.reading.level_db - lined.stop.expected_db
    said = _level(lined.stop, lined.reading.level_db)
    return f"{expected}; read: {said}, {gain_words(step)} off: the model uses it"


def _level(stop: Stop, level_db: float) -> str:
    if stop.meter is Meter.EAR:
        return f"{level_db:.1f} dB SPL"
    return f"{gain_words(level_db)} ({level_db + ALIGNMENT_DBFS:.1f} dBFS)"


def _matches(studio: Studio, every: Sequence[Lined], width: int) -> Iterator[str]:
    """How far apart speakers and headphones are at each pair of ears."""
    ears = [lined for lined in every if lined.stop.meter is Meter.EAR]
    for one, other in combinations(ears, 2):
        if one.stop.at != other.stop.at:
            continue
        apart = abs(one.level_db - other.level_db)
        most = studio.limits.match_db
        verdict = "matched" if apart <= most else "too far apart: it startles"
        words = (
            f"{one.stop.at}: {one.stop.through} and {other.stop.through} are "
            f"{apart:.1f} dB apart (at most {most:g} dB): {verdict}"
        )
        yield ""
        yield from _wrapped("", words, width)


def _doses(every: Sequence[Lined], width: int) -> Iterator[str]:
    ears = [lined for lined in every if lined.stop.meter is Meter.EAR]
    if not ears:
        return
    yield ""
    yield "How long one may listen at that level, tone or speech without a pause:"
    for lined in ears:
        words = f"{lined.stop.at}, {lined.stop.through}: "
        yield from _wrapped("  ", words + listening_words(lined.level_db), width)


def _key(stop: Stop) -> str:
    scene = "" if stop.scene is None else f" in {stop.scene}"
    return f"{stop.source.name} at {stop.at}{scene}"


def _file_level(lined: Lined) -> str:
    level = round(lined.level_db, 1)
    return f"{level:g} dB"


def _wrapped(head: str, text: str, width: int) -> list[str]:
    blank = " " * len(head)
    return wrap(shown(text), width, initial_indent=head, subsequent_indent=blank)


def _data(every: Sequence[Lined]) -> Data:
    return {
        "stops": [
            {
                "meter": lined.stop.meter.value,
                "source": lined.stop.source.name,
                "at": lined.stop.at,
                "scene": lined.stop.scene,
                "through": lined.stop.through,
                "expected_db": lined.stop.expected_db,
                "read_db": lined.reading.level_db if lined.reading else None,
            }
            for lined in every
        ]
    }
