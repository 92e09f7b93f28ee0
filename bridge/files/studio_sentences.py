"""Needs, nevers and keeps: short sentences over the file's own names."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from bridge.core.demand import Demand, Sentence
from bridge.core.graph import Listener, Scale
from bridge.files.amounts import amount
from bridge.files.kinds import GAIN, SOUND
from bridge.files.lines import split
from bridge.files.shapes import unknown_name
from bridge.files.studio_draft import Draft
from bridge.files.studio_people import PASCAL_DB_SPL
from bridge.files.tree import Text

GRAMMAR = {
    Demand.NEEDS: "LISTENER hears SOURCE always|in SCENE [above LEVEL]",
    Demand.NEVER: "LISTENER never hears SOURCE [in SCENE] [above LEVEL]",
    Demand.KEEP: "LISTENER hears SOURCE [above LEVEL]",
}
"""How a sentence of each list is written."""

EXAMPLE = {
    Demand.NEEDS: "stream hears presenter always",
    Demand.NEVER: "stream never hears talkback",
    Demand.KEEP: "stream hears presenter",
}


def read_sentences(draft: Draft, scenes: Collection[str]) -> tuple[Sentence, ...]:
    """Read the three lists; notes what is wrong."""
    part = draft.part
    lists = (
        (Demand.NEEDS, part.needs),
        (Demand.NEVER, part.never),
        (Demand.KEEP, part.keep),
    )
    read = [
        _Reader(draft, scenes, demand, line).read()
        for demand, lines in lists
        for line in lines
    ]
    return tuple(sentence for sentence in read if sentence is not None)


class _Reader:
    """One sentence."""

    def __init__(
        self, draft: Draft, scenes: Collection[str], demand: Demand, text: Text
    ) -> None:
        self.draft = draft
        self.notes = draft.notes
        self.scenes = scenes
        self.demand = demand
        self.text = text

    def read(self) -> Sentence | None:
        """Return the sentence, or None after noting what is wrong."""
        verb = "never hears" if self.demand is Demand.NEVER else "hears"
        sides = split(self.text, verb)
        doubled = self.demand is not Demand.NEVER and sides[0].value.endswith(" never")
        if len(sides) != 2 or doubled or not all(side.value for side in sides):
            self._not_understood()
            return None
        rest, *levels = split(sides[1], "above")
        if len(levels) > 1:
            self._not_understood()
            return None
        listener = self._listener(sides[0])
        found = self._source_and_scene(rest)
        if listener is None or found is None:
            return None
        source, scene = found
        level = self._level(levels[0], listener) if levels else None
        if levels and level is None:
            return None
        return Sentence(
            self.demand,
            listener.name,
            source,
            self.text.value,
            scene,
            level,
            self.text.place,
        )

    def _listener(self, name: Text) -> Listener | None:
        for listener in self.draft.listeners:
            if listener.name == name.value:
                return listener
        self._unknown("the listener", name, [x.name for x in self.draft.listeners])
        return None

    def _source_and_scene(self, text: Text) -> tuple[str, str | None] | None:
        """Cut "SOURCE in SCENE" or "SOURCE always" where the names are known."""
        sources = [source.name for source in self.draft.sources]
        ways = list(self._ways(text))
        needless = self.demand is not Demand.NEEDS and text.value.endswith(" always")
        if not ways or (needless and text.value not in sources):
            self._not_understood()
            return None
        for source, scene in ways:
            if source.value in sources and (
                scene is None or scene.value in self.scenes
            ):
                return source.value, scene.value if scene else None
        source, scene = ways[0]
        if source.value not in sources:
            self._unknown("the source", source, sources)
        if scene is not None and scene.value not in self.scenes:
            self._unknown("the scene", scene, self.scenes)
        return None

    def _ways(self, text: Text) -> Iterator[tuple[Text, Text | None]]:
        words = text.value
        if self.demand is Demand.NEEDS and words.endswith(" always"):
            yield Text(words[:-7].strip(), text.part(0, len(words) - 7)), None
        if self.demand is not Demand.KEEP:
            pieces = split(text, "in")
            for cut in range(1, len(pieces)):
                yield _joined(pieces[:cut]), _joined(pieces[cut:])
        if self.demand is not Demand.NEEDS:
            yield text, None

    def _level(self, text: Text, listener: Listener) -> float | None:
        if listener.scale is Scale.LINE:
            return amount(text, GAIN, self.notes)
        level = amount(text, SOUND, self.notes)
        return None if level is None else level - PASCAL_DB_SPL

    def _unknown(self, what: str, name: Text, known: Collection[str]) -> None:
        if not self.draft.incomplete:
            unknown_name(
                self.notes, "unknown-name", what, name.value, name.place, known
            )

    def _not_understood(self) -> None:
        key = self.demand.value
        self.notes.error(
            "sentence-not-understood",
            f'under {key}: "{self.text.value}" is not understood',
            self.text.place,
            note=f"it is written: {GRAMMAR[self.demand]}",
            cure=self._cure(),
        )

    def _cure(self) -> str:
        words = self.text.value
        if self.demand is not Demand.NEVER and " never hears " in words:
            return "write it under never:"
        if self.demand is Demand.NEVER and " never hears " not in words:
            return f'write "{words.replace(" hears ", " never hears ", 1)}"'
        if self.demand is not Demand.NEEDS and words.endswith(" always"):
            return f'write "{words.removesuffix(" always")}": that is always'
        if self.demand is Demand.NEEDS and " hears " in words:
            return f'write "{words} always", or in which scene'
        return f"write it like: {EXAMPLE[self.demand]}"


def _joined(pieces: tuple[Text, ...]) -> Text:
    """Put pieces that were cut at "in" together again."""
    first, last = pieces[0].place, pieces[-1].place
    place = first
    if first.line == last.line:
        place = type(first)(first.file, first.line, first.column, last.end_column)
    return Text(" in ".join(piece.value for piece in pieces), place)
