"""From a contact that moves and bounces to what the person means by it.

Rules of this file: time is an argument, in seconds; a plain tap is never made to
wait; and a contact is only ever judged by its level, so nothing is lost for good.

Strategy: act on the first edge, then lock out for `lockout_ms`, and look at the level
again when the lockout ends. So a press shorter than the lockout is a whole press, and
the next one counts. Ports tell movements, never where a contact stands: so what is
told first is a movement, and a foot that was down at start means nothing until it has
been up once.

Tap and hold live on one button without waiting: the tap acts on the leading edge and,
if the foot stays down, the hold follows and wins. To wait and see which of the two
it will be would put `hold_ms` before every tap, hundreds of times a day. Both lead to
scenes, each of which is proved from wherever the other one has got to, so going by
way of the tap's scene costs a moment and no harm. For the same reason a double tap
acts as a tap first; its second tap is then the double instead of another tap.
"""

from __future__ import annotations

from typing import NamedTuple

from bridge.core.button import Button, Gesture

DOUBLE_S = 0.4
"""From tap to tap for the second to make a double. Common practice, no source."""

NEVER = float("-inf")
"""A time before all others."""


class Contact(NamedTuple):
    """What is known of one button's contact; the default is: nothing yet.

    down: the level acted on last. level: the level seen last, bounce and all.
    moved_at: when `level` changed last. locked_until: when `level` counts again.
    pressed_at: since when it is down. tapped_at: the tap that may become a double.
    is_held: the hold was given already. now: no time before this is believed.
    """

    down: bool | None = None
    level: bool | None = None
    moved_at: float = NEVER
    locked_until: float = NEVER
    pressed_at: float = NEVER
    tapped_at: float = NEVER
    is_held: bool = False
    now: float = NEVER


class Read(NamedTuple):
    """The contact afterwards, and the gestures that have come to be, in order."""

    contact: Contact
    gestures: tuple[Gesture, ...] = ()


def is_down(button: Button, number: float) -> bool:
    """Whether a message with this number says that the button is down."""
    return (number >= button.down_from) is not button.inverted


def moved(button: Button, contact: Contact, *, down: bool, at: float) -> Read:
    """Read an edge, or a level told once more, that was seen at `at`."""
    before = passed(button, contact, at)
    contact = before.contact
    if contact.down is None and not button.latching and not down:
        # A foot was on it at start and has come up, with all the bounce of that.
        locked = contact.now + button.lockout_ms / 1000
        contact = contact._replace(down=False, locked_until=locked)
    elif contact.down is None:
        contact = contact._replace(down=not down)
    if contact.level is not down:
        contact = contact._replace(level=down, moved_at=contact.now)
    if contact.down is down or contact.now < contact.locked_until:
        return Read(contact, before.gestures)
    after = _accepted(button, contact, contact.now)
    return Read(after.contact, before.gestures + after.gestures)


def passed(button: Button, contact: Contact, now: float) -> Read:
    """Read what has come to be by `now` without a further edge."""
    gestures: tuple[Gesture, ...] = ()
    due = deadline(button, contact)
    while due is not None and due <= now:
        if contact.level is not contact.down:
            # What came during the lockout is locked out from when it came.
            read = _accepted(button, contact, contact.moved_at)
        else:
            read = Read(contact._replace(is_held=True), (Gesture.HOLD,))
        contact = read.contact
        gestures += read.gestures
        due = deadline(button, contact)
    return Read(contact._replace(now=max(contact.now, now)), gestures)


def deadline(button: Button, contact: Contact) -> float | None:
    """When `passed` must be called next, if no edge comes before; None: never."""
    if contact.level is not contact.down:
        return contact.locked_until
    waits = contact.down and not contact.is_held and not button.latching
    if waits and Gesture.HOLD in button.rounds:
        return contact.pressed_at + button.hold_ms / 1000
    return None


def _accepted(button: Button, contact: Contact, since: float) -> Read:
    """Act on the level that is seen now; bounce may go on for a lockout `since`."""
    is_now = bool(contact.level)
    at = max(contact.now, contact.locked_until)
    contact = contact._replace(
        down=is_now, locked_until=since + button.lockout_ms / 1000, now=at
    )
    if is_now or button.latching:
        return _tapped(button, contact, at)
    return Read(contact, _released(button, contact))


def lost(button: Button, contact: Contact) -> tuple[Gesture, ...]:
    """What is meant when nobody can say any more that the button is down."""
    is_held = contact.down and not button.latching
    return _released(button, contact) if is_held else ()


def _released(button: Button, contact: Contact) -> tuple[Gesture, ...]:
    """A foot came up: after a hold, where there is one; a tap there is over at once."""
    counts = contact.is_held or Gesture.HOLD not in button.rounds
    return (Gesture.RELEASE,) if Gesture.RELEASE in button.rounds and counts else ()


def _tapped(button: Button, contact: Contact, at: float) -> Read:
    first = contact.tapped_at
    contact = contact._replace(pressed_at=at, is_held=False, tapped_at=at)
    if at - first <= DOUBLE_S and Gesture.DOUBLE in button.rounds:
        return Read(contact._replace(tapped_at=NEVER), (Gesture.DOUBLE,))
    return Read(contact, (Gesture.TAP,) if Gesture.TAP in button.rounds else ())
