"""Ask the running service, at its own OSC address on this machine, and say what it did.

Every wait is bounded. Nothing is sent but the name of a button or a scene: what is
sent to the gear, and whether, is the service's decision.
"""

from __future__ import annotations

import shlex
import socket
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from bridge.core.book import refusal_of
from bridge.core.cures import value_words
from bridge.core.effects import Told
from bridge.core.settings import start
from bridge.core.toggling import is_told_only
from bridge.faces.answers import read
from bridge.faces.hears import named
from bridge.faces.opened import opened, refused, with_findings
from bridge.faces.outcome import CouldNotRunError, Exit, FoundError, Outcome
from bridge.faces.tables import counted, draw
from bridge.files.studio import Loaded, load
from bridge.wiring.door import DOOR_HOST, answer, question

ANSWER_S = 3.0
"""How long the service may take to answer at all; it takes milliseconds."""

DONE_S = 20.0
"""How long a request may take to its end: a crossing takes a fraction of a second, and
one with steps by hand as long as a person; `status` tells more about that."""

LOOK_S = 0.5
"""How long to wait for an end before looking whether a person is waited for."""

ANSWER_BYTES = 65_536

NOT_ASKED = "not asked for: nothing was sent"


def press(path: Path, button: str, gesture: str) -> Outcome:
    """Press a button of the running service."""
    loaded = load(path)
    if loaded.studio is not None:  # else the service knows better than the file
        named(button, [b.name for b in loaded.studio.buttons], "button")
    return _done(_ask(_door(loaded), path, ("press", button, gesture), DONE_S), path)


def go(path: Path, scene: str) -> Outcome:
    """Let the running service go to a scene, unless the file has it unsafe now.

    The service goes by the file that it has proved; whoever changed that file since
    must not be told that all is well.
    """
    here = opened(path)
    wanted = here.studio.scenes[named(scene, here.studio.scenes, "scene")]
    if refused := refusal_of(here.judge, start(here.studio).belief, wanted):
        return with_findings(here, refused, NOT_ASKED)
    return _done(_ask(here.studio.door_port, path, ("go", scene), DONE_S), path)


def done(path: Path, control: str | None, value: str | None) -> Outcome:
    """Say that what is asked by hand is done, or how one hand control stands."""
    studio = opened(path).studio
    if control is None or value is None:
        if control is not None:
            why = f"nothing says how {control} stands"
            cure = f"add its value; or say of all that is asked: treadle done {path}"
            raise CouldNotRunError(why, cure)
        ended = _done(_ask(studio.door_port, path, ("done",), DONE_S), path)
        return _with_next(ended, studio.door_port, path)
    hands = {
        name: c.name
        for c in studio.controls.values()
        if is_told_only(c)
        for name in (c.label, c.name)
    }
    full = hands[named(control, hands, "hand control")]
    values = [value_words(v) for v in studio.controls[full].values]
    meant = {_plainly(known): known for known in values}.get(_plainly(value))
    if meant is None:
        why = f'{control} has no value "{value}"'
        raise CouldNotRunError(why, f"it has {', '.join(values)}")
    value = meant
    _ask(studio.door_port, path, ("hand", full, value), ANSWER_S)
    words = f"noted: {control} is {value}"
    return Outcome(Exit.FINE, words, {"control": full, "value": value})


def _plainly(value: str) -> str:
    """A value however it is typed: "+3dB" is 3 dB."""
    return "".join(value.split()).removeprefix("+").casefold()


def _with_next(ended: Outcome, port: int, path: Path) -> Outcome:
    """What is to be done by hand after that, if there is more in the same crossing."""
    try:
        told = _ask(port, path, ("status",), ANSWER_S, _is_settled)
    except CouldNotRunError:  # it is done all the same
        return ended
    if not told["by_hand"]:
        return ended
    data = {**ended.data, "waits": told["by_hand"]}
    return replace(ended, text=f"{ended.text}\n{_to_do(told, path)}", data=data)


def status(path: Path) -> Outcome:
    """What is in force, how sure that is, what is not there, and what was dropped."""
    told = _ask(_door(load(path)), path, ("status",), ANSWER_S)
    scenes = " and ".join(told["scenes"]) or "no scene in force"
    way = f", on the way to {told['heading']}" if told["heading"] else ""
    lines = [f"{told['studio']}: {told['state']}; {scenes}{way}", ""]
    lines += _file(told["file"])
    lines += _controls(told["controls"])
    lines += [f"to do by hand now: {step['words']}" for step in told["by_hand"]]
    lines += [f"by hand after that: {step['words']}" for step in told["later_by_hand"]]
    for one in told["unsure_by_hand"]:
        lines += _unsure(one, path)
    lines += [f"lamp: {name} {sign}" for name, sign in told["lamps"].items()]
    lines += [_relay(relay) for relay in told["relays"]]
    lines += [
        f"not there: {port['name']}: {port['why']}"
        for port in told["ports"]
        if not port["is_found"]
    ]
    for one in told["missing"]:
        whose = f", for {', '.join(one['ports'])}" if one["ports"] else ""
        lines += [f"missing: {one['what']}{whose}", f"  cure: {one['cure']}"]
    lines += _dropped(told)
    sent = f"{counted(told['sent'], 'message')} sent, questions included"
    if told["press_ms"] is not None:
        sent += f"; from press to wire {told['press_ms']:.1f} ms the last time, "
        sent += f"{told['worst_press_ms']:.1f} ms at worst"
    return Outcome(Exit.FINE, "\n".join([*lines, sent]), {"status": told})


def _door(loaded: Loaded) -> int:
    """Where the service of this file is asked, whatever else is wrong with the file.

    Raises FoundError if there is no file.
    """
    if loaded.studio is None and not loaded.sources:
        raise FoundError(refused(loaded))
    return loaded.door_port


def _file(told: Mapping[str, Any]) -> list[str]:
    """What is wrong with the studio file, if it is not the one in force."""
    if told["is_in_force"]:
        return []
    return [told["words"], *(f"  {line}" for line in told["findings"]), ""]


def _unsure(one: Mapping[str, Any], path: Path) -> list[str]:
    """How to answer for a control that only a person can look at."""
    label = one["label"]
    ways = [
        [shlex.join(["treadle", "done", str(path), label, value]), f"# {words}"]
        for value, words in one["values"].items()
    ]
    _, *drawn = draw(["", ""], ways, left=2)
    return [f"nobody has said how {label} stands; look, and say:", *drawn]


def _controls(controls: Sequence[Mapping[str, Any]]) -> list[str]:
    rows = [
        [control["label"], " or ".join(control["values"]), control["why"]]
        for control in controls
    ]
    return [*draw(["control", "is", "because"], rows, left=3), ""] if rows else []


def _relay(relay: Mapping[str, Any]) -> str:
    share = f"{relay['operations'] / relay['rated']:.1%}".replace("%", " %")
    cure = f"; cure: {relay['cure']}" if relay["cure"] else ""
    counts = f"{relay['operations']:,} of {relay['rated']:,} operations"
    return f"wear of {relay['control']}: {counts}, {share}{cure}"


def _dropped(told: Mapping[str, Any]) -> list[str]:
    counts = {what: count for what, count in told["drops"].items() if count}
    for port in told["ports"]:
        drops = port["drops"].items()
        counts |= {f"{port['name']}: {why}": count for why, count in drops if count}
    return [f"dropped: {count} ({what})" for what, count in counts.items()]


def _done(told: Mapping[str, Any], path: Path) -> Outcome:
    """How a request ended, as the service tells it; or that it waits for a hand."""
    if "ended" not in told:
        return _waits(told, path)
    arrived = told["ended"] in (Told.ARRIVED.value, Told.DONE_BY_HAND.value)
    lines = [f"{told['ended']}: {told['words']}"]
    if told["way"]:
        lines.append(f"  {told['way']}")
    sent = counted(told["messages"], "message")
    lines.append(f"  {sent} sent, questions included; {told['took_ms']:.0f} ms")
    if told["rules"]:
        lines.append(f"  rules: {', '.join(told['rules'])}")
    if told["cure"]:
        lines.append(f"  cure: {told['cure']}")
    code = Exit.FINE if arrived else Exit.FINDINGS
    return Outcome(code, "\n".join(lines), {"answer": told})


def _waits(told: Mapping[str, Any], path: Path) -> Outcome:
    return Outcome(Exit.FINDINGS, _to_do(told, path), {"waits": told["by_hand"]})


def _to_do(told: Mapping[str, Any], path: Path) -> str:
    lines = [f"{told['heading']} waits for you. By hand:"]
    lines += [f"  [ ] {step['words']}" for step in told["by_hand"]]
    own = shlex.join(["treadle", "done", str(path)])
    return "\n".join([*lines, f"then press the same button again, or: {own}"])


def _ask(
    port: int,
    path: Path,
    words: tuple[str, ...],
    within_s: float,
    ends: Callable[[Mapping[str, Any]], bool] | None = None,
) -> dict[str, Any]:
    """Ask and wait for the answer, or for a crossing that waits for a hand.

    The latter is answered with the status. ends: another end of the wait. Raises
    CouldNotRunError if nobody answers, or a service of another version.
    """
    where = f"UDP port {port} of this machine"
    deadline = time.monotonic() + within_s
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.connect((DOOR_HOST, port))
        try:
            sock.send(question(words))
            while (left := deadline - time.monotonic()) > 0:
                sock.settimeout(min(left, LOOK_S))
                try:
                    text = answer(sock.recv(ANSWER_BYTES))
                except TimeoutError:
                    sock.send(question(("status",)))
                    continue
                if text is None:
                    continue
                told = read(text, path)
                if ends(told) if ends else _is_answer(told, words):
                    return told
        except ConnectionRefusedError:
            why = f"no service listens at {where}"
            cure = f"start it: treadle run {path}"
            raise CouldNotRunError(why, cure) from None
    why = f"the service at {where} did not answer within {within_s:g} s"
    raise CouldNotRunError(why, f"see what it does: treadle status {path}")


def _is_settled(told: Mapping[str, Any]) -> bool:
    """Whether a look shows what is next: a step by hand, or nothing."""
    return bool(told["by_hand"]) or not told["heading"]


def _is_answer(told: Mapping[str, Any], words: tuple[str, ...]) -> bool:
    """Whether this ends the wait: its end, or a look that shows a hand is needed."""
    is_look = "state" in told
    return not is_look or words == ("status",) or bool(told["by_hand"])
