"""Known names, nearest first: the answer to a wrong one."""

from collections.abc import Iterable
from difflib import SequenceMatcher

# Below this likeness, "did you mean" would send a reader the wrong way.
_ALIKE = 0.6
# Longer words tell no more, and comparing them costs the square of their length.
_LONGEST = 60


def nearest_first(word: str, known: Iterable[str]) -> tuple[str, ...]:
    """Return every known name once, the most alike first; else in the given order."""
    return tuple(name for _, name in _ranked(word, known))


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return `did you mean "..."?`, or "" if no name is much like the word."""
    likeness, name = next(iter(_ranked(word, known)), (0.0, ""))
    return f'did you mean "{name}"?' if likeness > _ALIKE else ""


def _ranked(word: str, known: Iterable[str]) -> list[tuple[float, str]]:
    matcher = SequenceMatcher(autojunk=False)
    matcher.set_seq2(_plain(word))
    ranked = []
    for name in dict.fromkeys(known):
        matcher.set_seq1(_plain(name))
        ranked.append((matcher.ratio(), name))
    return sorted(ranked, key=lambda pair: -pair[0])


def _plain(word: str) -> str:
    """Compare without case, and as if - and _ were blanks."""
    return word[:_LONGEST].casefold().replace("-", " ").replace("_", " ")
