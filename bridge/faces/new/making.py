"""Makes a studio file: tries the answers first, and says what would work if they fail.

Strategy: the same reader and the same proof as `check` judge the text before it is
written. If something stands against it, one answer is changed at a time, then two,
and every change that leads to a proved studio is offered.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path

from bridge.core.book import breaches_in
from bridge.core.explain import evidence, finding_of
from bridge.core.finding import Finding, Severity, in_file_order
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.proof import Proof, prove
from bridge.core.settings import explore
from bridge.faces.check import last_line
from bridge.faces.new.answers import Answers, Button, Changeover, Desk, Listens, checked
from bridge.faces.new.sheet import studio_text
from bridge.faces.new.starters import STARTERS, about
from bridge.faces.outcome import CouldNotRunError, Data, Exit, Outcome
from bridge.faces.report import render, shown, to_json
from bridge.faces.tables import draw
from bridge.files.notes import Notes
from bridge.files.shelf import profile_folders
from bridge.files.studio import load_text
from bridge.files.studio_gear import Shelf

MOST_OFFERED = 3
"""Ways out that are offered; more than three are not weighed."""


@dataclass(frozen=True, slots=True)
class Tried:
    """A text with everything that reading and proving found."""

    text: str
    findings: tuple[Finding, ...]
    sources: Mapping[str, str]
    proof: Proof | None

    @property
    def holds(self) -> bool:
        """Whether nothing stands against it."""
        return not any(f.severity is Severity.ERROR for f in self.findings)


def try_out(answers: Answers, file: Path) -> Tried:
    """Read and prove the studio that these answers make."""
    name = file.name
    text = studio_text(answers, name)
    shelf = Shelf(profile_folders(file), Notes())
    loaded = load_text(text.encode(), name, shelf)
    if loaded.studio is None:
        return Tried(text, loaded.findings, loaded.sources, None)
    judge = HouseJudge(loaded.studio)
    broken = _broken(judge)
    if broken:
        return Tried(text, (*loaded.findings, *broken), loaded.sources, None)
    proof = prove(judge, Planner(judge))
    findings = in_file_order((*loaded.findings, *proof.findings))
    return Tried(text, findings, loaded.sources, proof)


def _broken(judge: HouseJudge) -> tuple[Finding, ...]:
    """What is broken in some setting, each rule once, without the search for a cure.

    The gear is still open here, so no button is the cure: other gear may be.
    """
    studio = judge.studio
    found: dict[str, Finding] = {}
    for reached in explore(
        studio, lambda r: not judge.nevers_broken(r.belief)
    ).settings:
        for _, breach in breaches_in(judge, reached.belief):
            if breach.key not in found:
                bare = finding_of(breach, where=reached.where)
                path = evidence(judge, reached.belief, breach)
                found[breach.key] = replace(bare, path=path)
    return tuple(found.values())


def starters_listed() -> Outcome:
    """The starting studios by name."""
    rows = [(name, about(answers)) for name, answers in STARTERS.items()]
    text = "\n".join(draw(("name", "what it is"), rows, left=2, indent=""))
    data = {"starters": [{"name": n, "about": what} for n, what in rows]}
    return Outcome(Exit.FINE, text, data)


def make(file: Path, answers: Answers, *, colour: bool, width: int) -> Outcome:
    """Write a proved studio file, or say what cannot work and what would.

    Raises CouldNotRunError if the file is there already or cannot be written.
    """
    refuse_old(file)
    tried = try_out(checked(answers), file)
    if not tried.holds:
        return _cannot(file, answers, tried, colour=colour, width=width)
    _write(file, tried.text)
    said = render(tried.findings, tried.sources, colour=colour, width=width)
    lines = [said] if said else []
    lines += [
        shown(f"wrote {file}"),
        last_line(tried.proof, tried.findings) if tried.proof else "",
        *_left_out(answers),
        shown(f"next: write your own gear's names into it, then treadle patch {file}"),
    ]
    data: Data = {
        "file": str(file),
        "written": True,
        "findings": [to_json(finding) for finding in tried.findings],
    }
    return Outcome(Exit.FINE, "\n".join(lines), data, is_clean=True)


def _left_out(answers: Answers) -> Iterator[str]:
    """What was asked for and is not in the file, with the reason."""
    if answers.button is not Button.NONE and not answers.has_switching:
        yield (
            f"no {answers.button.value} is in it: this desk is set by hand, and you "
            "listen on one thing only, so there is nothing to switch"
        )


def _cannot(
    file: Path, answers: Answers, tried: Tried, *, colour: bool, width: int
) -> Outcome:
    errors = [f for f in tried.findings if f.severity is Severity.ERROR]
    lines = [render(errors, tried.sources, colour=colour, width=width)]
    lines.append(shown(f"{file} was not written: with this gear it cannot work."))
    ways = list(_ways_out(answers, file))[:MOST_OFFERED]
    if ways:
        lines.append("What would make it work:")
        lines += [f"  - {words}" for words in ways]
    else:
        lines.append("No change of a few answers would make it work.")
    data: Data = {
        "file": str(file),
        "written": False,
        "findings": [to_json(finding) for finding in errors],
        "ways_out": ways,
    }
    return Outcome(Exit.FINDINGS, "\n".join(lines), data, is_clean=True)


def _ways_out(answers: Answers, file: Path) -> Iterator[str]:
    """What to change, the fewest changes only, each tried and proved.

    First with everybody who is to be there: without the guest nearly all works.
    """
    keeping, losing = _changes(answers), _losses(answers)
    some = [(keeping, count) for count in (1, 2, 3)]
    for offered, count in [*some, *(([*keeping, *losing], n) for n in (1, 2))]:
        found = False
        for changes in combinations(offered, count):
            fields = [field for _, field, _ in changes]
            if len(set(fields)) < count:
                continue
            other = replace(answers, **{field: value for _, field, value in changes})  # type: ignore[arg-type]
            if try_out(other, file).holds:
                found = True
                yield "; and ".join(words for words, _, _ in changes)
        if found:
            return


def _changes(answers: Answers) -> list[tuple[str, str, object]]:
    """One answer changed: in words, by its field, and the new answer."""
    changes: list[tuple[str, str, object]] = []
    if answers.listens is not Listens.HEADPHONES:
        changes.append(
            ("listen on headphones only", "listens", Listens.HEADPHONES),
        )
    if answers.changeover is not Changeover.RELAY and answers.listens is Listens.BOTH:
        words = "a relay between headphones and speakers"
        changes.append((words, "changeover", Changeover.RELAY))
    if not answers.has_remote_desk:
        changes.append(
            ("a desk whose buttons messages can set", "desk", Desk.OSC),
        )
    if answers.pairs == 1:
        changes.append(("a computer that plays on two stereo pairs", "pairs", 2))
    if answers.captures == 1 and answers.guests and answers.feeds:
        words = "a computer that takes two stereo pairs, and a desk with a call bus"
        changes.append((words, "captures", 2))
    if answers.listens is Listens.SPEAKERS:
        changes.append(
            ("headphones beside the speakers", "listens", Listens.BOTH),
        )
    return changes


def _losses(answers: Answers) -> list[tuple[str, str, object]]:
    """The same, where something that was wanted goes."""
    losses: list[tuple[str, str, object]] = []
    if answers.guests:
        losses.append(("no far guest", "guests", ()))
        if answers.plays and answers.pairs == 1:
            losses.append(("nothing but the call on the computer", "plays", ()))
    return losses


def refuse_old(file: Path) -> None:
    """Raise CouldNotRunError if there is such a file."""
    if file.exists() or file.is_symlink():
        msg = f"{file} is there already, and nothing is ever written over"
        raise CouldNotRunError(
            msg,
            "give another name",
        )


def _write(file: Path, text: str) -> None:
    try:
        with file.open("x", encoding="utf-8") as opened:
            opened.write(text)
    except FileExistsError:
        refuse_old(file)
    except OSError as error:
        msg = f"{file} cannot be written: {error.strerror or error}"
        raise CouldNotRunError(
            msg,
            "check the folder and its rights",
        ) from error
