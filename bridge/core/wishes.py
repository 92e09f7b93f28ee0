"""What a person or a program asks for, and what it counts as.

A press may be the word that a step by hand is done; else it is a wish to cross, as a
scene that is asked for by name is. Whoever wishes is at the pedal: it is their show.
"""

from __future__ import annotations

from bridge.core import telling
from bridge.core.desk import Desk
from bridge.core.effects import Pressed, Wanted
from bridge.core.hands import Hands
from bridge.core.home import Home
from bridge.core.rounds import round_of
from bridge.core.steering import Steering, Wish
from bridge.core.table import Act


class Wishes:
    """Hands each request to whom it concerns."""

    def __init__(
        self, desk: Desk, hands: Hands, home: Home, steering: Steering
    ) -> None:
        self._desk = desk
        self._hands = hands
        self._home = home
        self._steering = steering

    def take(self, act: Act, request: Pressed | Wanted) -> None:
        """Go, keep or refuse, as the table says."""
        names = round_of(self._desk.studio, request)
        if act is Act.REFUSE:
            names = "the service stops"
        if isinstance(names, str):
            self._desk.tell(telling.not_taken(names, request.ticket))
            return
        pressed = request if isinstance(request, Pressed) else None
        if pressed is not None and act is Act.KEEP and self._hands.is_word(pressed):
            self._hands.take_word(pressed)
            return
        if pressed is not None:
            self._hands.heard(pressed)
        self._home.somebody_asks()
        wish = Wish(names, request.ticket, pressed)
        if act is Act.GO:
            self._steering.go(wish)
        else:
            self._steering.keep(wish)
