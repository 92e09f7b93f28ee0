"""Asks the few questions that a studio file is made from, one at a time."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import Enum
from typing import Any

from bridge.faces.new.answers import (
    Answers,
    Button,
    Changeover,
    Desk,
    Listens,
    checked,
)
from bridge.faces.new.starters import STARTERS
from bridge.faces.outcome import CouldNotRunError
from bridge.files.near import did_you_mean

Ask = Callable[[str], str]
"""Shows a text and returns what a person types; raises EOFError at the end."""

MOST_TRIES = 5
"""Wrong answers to one question before we stop: then somebody needs the manual."""


@dataclass(frozen=True, slots=True)
class Question:
    """One question. field: what it answers. asked_if: whether it makes sense."""

    field: str
    text: str
    kind: type[Enum] | None = None
    asked_if: Callable[[Answers], bool] = lambda _: True


QUESTIONS = (
    Question("name", "What is the studio called?"),
    Question("room", "What is the room called?"),
    Question("people", "Who talks in it? One or two names, with commas"),
    Question("guests", "Who is far away, in a call? Names, or nothing"),
    Question("feeds", "What only listens (stream, recording)? Names, or nothing"),
    Question("plays", "What else does the computer play? Names, or nothing"),
    Question("instruments", "An instrument on a line cable? Its name, or nothing"),
    Question("desk", "How are the desk's buttons set?", Desk),
    Question(
        "pairs",
        "On how many stereo pairs can the computer play to the desk? 1, 2 or 3",
        asked_if=lambda answers: bool(answers.guests or answers.plays),
    ),
    Question(
        "captures",
        "On how many stereo pairs can the computer take from the desk? 1, 2 or 3"
        " (3 and 3 give two guests a mix each)",
        asked_if=lambda answers: bool(
            answers.guests and (answers.feeds or len(answers.guests) > 1)
        ),
    ),
    Question("listens", "On what do you listen?", Listens),
    Question(
        "changeover",
        "What switches between headphones and speakers?",
        Changeover,
        lambda answers: answers.listens is Listens.BOTH,
    ),
    Question(
        "button",
        "What do you press?",
        Button,
        lambda answers: answers.has_switching,
    ),
)

DEFAULTS = Answers("My studio")

INTRODUCTION = """\
Enter alone takes what stands in brackets; the word nothing means none.
"""


def asked(ask: Ask) -> Answers:
    """Ask everything; an empty answer takes what stands in brackets.

    Raises CouldNotRunError if the person goes away or cannot be understood.
    """
    answers, before = DEFAULTS, INTRODUCTION
    for question in QUESTIONS:
        if question.asked_if(answers):
            answers = _one(question, answers, ask, before)
            before = ""
    return answers


def _one(question: Question, answers: Answers, ask: Ask, before: str) -> Answers:
    for _ in range(MOST_TRIES):
        try:
            typed = ask(f"{before}{_prompt(question, answers)} ")
        except EOFError:
            msg = "the answers ended too early"
            raise CouldNotRunError(msg, "or give them as options: see --help") from None
        try:
            return with_words(answers, {question.field: typed.strip()})
        except CouldNotRunError as error:
            before = f"{error.why}\n({error.cure})\n"
    msg = f"{MOST_TRIES} answers to one question were not understood"
    raise CouldNotRunError(
        msg,
        "give them as options: see treadle new --help",
    )


def _prompt(question: Question, answers: Answers) -> str:
    usual = getattr(answers, question.field)
    words = ", ".join(usual) if isinstance(usual, tuple) else usual
    if isinstance(usual, Enum):
        words = usual.value
    choices = ""
    if question.kind is not None:
        choices = f" {', '.join(str(each.value) for each in question.kind)}"
    return f"{question.text}{choices} [{words or 'nothing'}]"


# Words to answers: the same for questions and options


def from_options(starter: str | None, words: Mapping[str, str]) -> Answers:
    """Answers from a starting studio, changed by what options say."""
    if starter is None:
        return checked(with_words(DEFAULTS, words))
    if starter not in STARTERS:
        known = ", ".join(STARTERS)
        msg = f'no starting studio is called "{starter}"'
        raise CouldNotRunError(
            msg,
            did_you_mean(starter, STARTERS) or f"known: {known}",
        )
    return checked(with_words(STARTERS[starter], words))


def with_words(answers: Answers, words: Mapping[str, str]) -> Answers:
    """The answers changed by words; an empty text leaves an answer as it is."""
    kinds = {question.field: question.kind for question in QUESTIONS}
    changed: dict[str, Any] = {}
    for field, word in words.items():
        kind = kinds[field]
        if word == "":
            continue
        if kind is not None:
            changed[field] = _chosen(field, kind, word)
        elif field in ("pairs", "captures"):
            if word not in ("1", "2", "3"):
                msg = f'{field} must be 1, 2 or 3, got "{word}"'
                raise CouldNotRunError(msg)
            changed[field] = int(word)
        elif isinstance(getattr(answers, field), tuple):
            names = () if word == "nothing" else word.split(",")
            changed[field] = tuple(name.strip() for name in names)
        else:
            changed[field] = word
    made = replace(answers, **changed)
    checked(made)
    return made


def _chosen(field: str, kind: type[Enum], word: str) -> Enum:
    known = {str(each.value): each for each in kind}
    if word.lower() not in known:
        msg = f'{field} must be one of {", ".join(known)}, got "{word}"'
        raise CouldNotRunError(
            msg,
            did_you_mean(word, known) or f"write one of {', '.join(known)}",
        )
    return known[word.lower()]
