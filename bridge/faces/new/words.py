"""Names that several parts of a studio file share."""

from __future__ import annotations

from collections.abc import Sequence

from bridge.faces.new.answers import Answers


def played_on(answers: Answers) -> list[tuple[str, str]]:
    """What the computer plays, and on which pair: the call on a pair of its own."""
    other = "pair 2" if answers.guests and answers.pairs >= 2 else "pair 1"
    calls = ["pair 1"] * len(answers.guests)
    if answers.has_own_calls:
        calls, other = ["pair 1", "pair 2"], "pair 3"
    return [
        *zip(answers.guests, calls, strict=True),
        *((program, other) for program in answers.plays),
    ]


def beside_call(answers: Answers) -> list[str]:
    """What the computer plays on a pair without the call."""
    played = played_on(answers)
    call = {pair for name, pair in played if name in answers.guests}
    names = [name for name, pair in played if pair not in call]
    return names[:1]  # one name of a strip is enough to mean the strip


def called(answers: Answers) -> list[str]:
    """One name for the strip of each call."""
    return list(answers.guests if answers.has_own_calls else answers.guests[:1])


def call_buses(answers: Answers) -> list[tuple[str, list[str]]]:
    """The buses that guests hear, and which other guests are on each."""
    if answers.has_own_calls:
        first, second = answers.guests
        return [("call 1", [second]), ("call 2", [first])]
    return [("call", [])] if answers.has_call_bus else []


def listed(names: Sequence[str]) -> str:
    """Names as a list of the file."""
    return f"[{', '.join(names)}]"
