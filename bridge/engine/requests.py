"""Who asked for what, and how each request ended: the service's answers as values.

An answer is one JSON object, version 1:

    {"treadle": 1, "asked": "go", "told": "arrived", "words": "...", "scene": "phones",
     "cure": "", "rules": [...], "messages": 4, "ms": 31.2}

`told` is how it ended (`core.effects.Told`), or "misunderstood" or "busy".
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from bridge.core.effects import ENDS, Pressed, Tell, Wanted
from bridge.core.studio import Gesture, Studio
from bridge.engine.ports import Asked

VERSION: Final = 1

MOST_OPEN: Final = 64
"""Requests that wait for their end: a person has one or two; a program that asks for
more without listening is told that we are busy."""

GESTURES: Final = {gesture.value: gesture for gesture in Gesture}

HELP: Final = 'ask "press" BUTTON [GESTURE], "go" SCENE or "status"'


@dataclass(slots=True)
class _Open:
    asked: str
    reply: Callable[[str], None]
    at: float
    sent: int


@dataclass(slots=True)
class Requests:
    """The requests that have not ended yet. sent: messages sent in all, by then."""

    studio: Studio
    _open: dict[int, _Open] = field(default_factory=dict)
    _count: int = 0

    def begin(self, asked: Asked, sent: int) -> Pressed | Wanted | None:
        """The event for the machine; None if the request was answered at once."""
        event = self._event(asked.words, self._count + 1)
        if isinstance(event, str):
            asked.reply(answer(asked.words, "misunderstood", event, cure=HELP))
            return None
        if len(self._open) >= MOST_OPEN:
            words = f"{MOST_OPEN} requests are waiting already"
            asked.reply(answer(asked.words, "busy", words, cure="ask again later"))
            return None
        self._count += 1
        self._open[self._count] = _Open(asked.words[0], asked.reply, asked.at, sent)
        return event

    def end(self, told: Tell, now: float, sent: int) -> None:
        """Answer the request that ends with this record, if any does."""
        if told.ticket is None or told.told not in ENDS:
            return
        one = self._open.pop(told.ticket, None)
        if one is not None:
            one.reply(
                answer(
                    (one.asked,),
                    told.told.value,
                    told.words,
                    scene=told.scene,
                    cure=told.cure,
                    rules=list(told.rules),
                    messages=sent - one.sent,
                    ms=round((now - one.at) * 1000, 2),
                )
            )

    def _event(self, words: tuple[str, ...], ticket: int) -> Pressed | Wanted | str:
        match words:
            case ("go", scene):
                if scene in self.studio.scenes:
                    return Wanted(scene, ticket)
                known = ", ".join(self.studio.scenes)
                return f'the scene "{scene}" is not known; known: {known}'
            case ("press", button, *rest) if len(rest) <= 1:
                gesture = GESTURES.get(rest[0] if rest else Gesture.TAP.value)
                names = [one.name for one in self.studio.buttons]
                if button not in names:
                    known = ", ".join(names) or "none"
                    return f'the button "{button}" is not known; known: {known}'
                if gesture is None:
                    return f'the gesture "{rest[0]}" is none of {", ".join(GESTURES)}'
                return Pressed(button, gesture, ticket)
            case _:
                return f'"{" ".join(words)}" is not understood'


def answer(words: tuple[str, ...], told: str, said: str, **more: object) -> str:
    """One answer as a line of JSON."""
    asked = words[0] if words else ""
    body = {"treadle": VERSION, "asked": asked, "told": told, "words": said}
    return json.dumps({**body, **more})
