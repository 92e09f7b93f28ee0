"""Keys of a keyboard by name: `page down`, `B`, `F13`, `button 1`.

The numbers are the kernel's (linux/input-event-codes.h), which it never changes; a
test holds them against it. Those without a name here are written as their number.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

MOST: Final = 0x2FF
"""The highest key code there is (KEY_MAX)."""

_ROWS: Final = (
    (1, "escape 1 2 3 4 5 6 7 8 9 0 minus equal backspace tab"),
    (16, "q w e r t y u i o p left-brace right-brace enter left-ctrl"),
    (30, "a s d f g h j k l semicolon apostrophe grave left-shift backslash"),
    (44, "z x c v b n m comma dot slash right-shift keypad-asterisk left-alt space"),
    (58, "caps-lock f1 f2 f3 f4 f5 f6 f7 f8 f9 f10 num-lock scroll-lock"),
    (71, "keypad-7 keypad-8 keypad-9 keypad-minus keypad-4 keypad-5 keypad-6"),
    (78, "keypad-plus keypad-1 keypad-2 keypad-3 keypad-0 keypad-dot"),
    (86, "102nd f11 f12"),
    (96, "keypad-enter right-ctrl keypad-slash print right-alt"),
    (102, "home up page-up left right end down page-down insert delete"),
    (113, "mute volume-down volume-up"),
    (119, "pause"),
    (125, "left-meta right-meta compose"),
    (163, "next-song play-pause previous-song stop-music"),
    (183, "f13 f14 f15 f16 f17 f18 f19 f20 f21 f22 f23 f24"),
    (256, "button-0 button-1 button-2 button-3 button-4 button-5 button-6"),
    (263, "button-7 button-8 button-9"),
    (272, "mouse-left mouse-right mouse-middle mouse-side mouse-extra"),
    (288, "joystick-1 joystick-2 joystick-3 joystick-4 joystick-5 joystick-6"),
)
"""A first code, and the names from there on."""

NAMES: Final[Mapping[int, str]] = MappingProxyType(
    {
        first + place: name.replace("-", " ")
        for first, names in _ROWS
        for place, name in enumerate(names.split())
    }
)
"""The name of each key that has one."""

_CODES: Final = MappingProxyType({name: code for code, name in NAMES.items()})


def key_code(text: str) -> int | None:
    """Return the code of a key that is written as its name or number; None if none.

    A digit alone is the key with that digit on it; `code 59` is the number.
    """
    word = " ".join(text.casefold().replace("_", " ").replace("-", " ").split())
    if word in _CODES:
        return _CODES[word]
    number = word.removeprefix("code ")
    if number != word and number.isdecimal() and 0 < int(number) <= MOST:
        return int(number)
    return None


def key_name(code: int) -> str:
    """Return how a studio file writes the key with this code."""
    return NAMES.get(code, f"code {code}")
