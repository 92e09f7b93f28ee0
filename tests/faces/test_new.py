"""New studios: every starting studio and every mix of answers, proved or refused."""

from __future__ import annotations

import io
import json
import re
import stat
from collections.abc import Callable, Iterable
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest

from bridge.faces.cli import main
from bridge.faces.new.answers import Answers, Button, Changeover, Desk, Listens
from bridge.faces.new.asking import asked, from_options
from bridge.faces.new.making import try_out
from bridge.faces.new.sheet import studio_text
from bridge.faces.new.starters import STARTERS, about
from bridge.faces.outcome import CouldNotRunError

FILE = Path("new.yaml")

KNOWN_ADVICE = {"reading": ["open-microphone"], "choir lesson": ["open-microphone"]}
"""A desk set by hand cannot cut its microphone while the speakers play."""


def said(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str]:
    code = main(["new", *map(str, words)])
    out = capsys.readouterr()
    return code, out.out + out.err


def replies(*typed: str) -> tuple[Callable[[str], str], list[str]]:
    """Somebody who types these, then presses enter for ever; and what was asked."""
    prompts: list[str] = []
    left = list(typed)

    def ask(prompt: str) -> str:
        prompts.append(prompt)
        return left.pop(0) if left else ""

    return ask, prompts


# Starting studios


def test_there_are_ten_to_fifteen_starting_studios_no_two_alike() -> None:
    assert 10 <= len(STARTERS) <= 15
    assert len({answers.name for answers in STARTERS.values()}) == len(STARTERS)


@pytest.mark.parametrize("name", STARTERS)
def test_a_starting_studio_is_proved(name: str) -> None:
    tried = try_out(STARTERS[name], FILE)
    assert tried.proof is not None
    assert tried.proof.holds
    assert [f.rule for f in tried.findings] == KNOWN_ADVICE.get(name, [])
    assert about(STARTERS[name])


@pytest.mark.parametrize("name", STARTERS)
def test_a_starting_studio_is_commented_and_fits_a_terminal(name: str) -> None:
    text = studio_text(STARTERS[name], "a-studio.yaml")
    assert "treadle check a-studio.yaml" in text
    assert text.count("#") >= 8
    assert all(len(line) <= 88 for line in text.splitlines())


# Every mix of answers

HOUSE = {"must-hear", "own-voice-late", "open-microphone"}
"""What may stand against a mix; anything else is a slip in the text that we make."""


def mixes() -> Iterable[Answers]:
    """Every kind of desk, of listening, of pairs, with and without a guest."""
    base = Answers("A mix", feeds=("stream",))
    kinds = product(
        Desk, Listens, (1, 2), ((), ("guest",)), (("host",), ("host", "co"))
    )
    for desk, listens, pairs, guests, people in kinds:
        yield replace(
            base, desk=desk, listens=listens, pairs=pairs, guests=guests, people=people
        )
    yield replace(base, changeover=Changeover.MESSAGES, button=Button.PADS)
    yield replace(base, instruments=("organ",), button=Button.NONE, plays=())


def test_a_mix_is_read_without_a_mistake_of_ours_and_then_proved_or_refused() -> None:
    refused = set()
    for answers in mixes():
        tried = try_out(answers, FILE)
        assert {f.rule for f in tried.findings} <= HOUSE, (answers, tried.findings)
        if not tried.holds:
            assert tried.proof is None
            refused.add((answers.desk, answers.listens, bool(answers.guests)))
            assert answers.guests  # nothing but a far guest is too much to ask
    # The guest's voice comes out of the speakers and goes back through a microphone
    # that nothing can cut.
    assert (Desk.HAND, Listens.BOTH, True) in refused
    assert (Desk.HAND, Listens.HEADPHONES, False) not in refused


# Writing


def test_a_file_is_written_that_check_passes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "studio.yaml"
    code, text = said(capsys, file, "--from", "observatory")
    assert code == 0
    assert f"wrote {file}" in text
    assert "0 findings" in text
    assert main(["check", str(file)]) == 0
    assert main(["patch", str(file)]) == 0


def test_nothing_is_ever_written_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "studio.yaml"
    file.write_text("mine")
    code, text = said(capsys, file, "--from", "observatory")
    assert (code, file.read_text()) == (2, "mine")
    assert "is there already, and nothing is ever written over" in text
    link = tmp_path / "link.yaml"
    link.symlink_to(tmp_path / "nowhere.yaml")
    assert said(capsys, link, "--from", "observatory")[0] == 2
    assert not (tmp_path / "nowhere.yaml").exists()


def test_a_folder_that_is_not_there_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, text = said(capsys, tmp_path / "no" / "a.yaml", "--from", "diary")
    assert code == 2
    assert "cannot be written: No such file or directory" in text


def test_a_new_file_has_no_odd_rights(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "studio.yaml"
    said(capsys, file, "--from", "diary")
    assert not stat.S_IMODE(file.stat().st_mode) & 0o111


# What cannot work


IMPOSSIBLE = ["--desk", "hand", "--guests", "nurse", "--changeover", "messages"]
"""Nothing takes the guest off the speakers while the microphone is open."""


def test_what_cannot_work_is_said_with_what_would_and_is_not_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "studio.yaml"
    code, text = said(capsys, file, *IMPOSSIBLE)
    assert (code, file.exists()) == (1, False)
    assert "error[own-voice-late]" in text
    assert f"{file} was not written: with this gear it cannot work." in text
    ways = text.partition("What would make it work:\n")[2].splitlines()
    assert "  - listen on headphones only" in ways
    assert "  - a desk whose buttons messages can set" in ways


def test_each_way_out_was_proved(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "studio.yaml"
    told = json.loads(said(capsys, file, *IMPOSSIBLE, "--json")[1])
    assert told["written"] is False
    assert len(told["ways_out"]) == 3
    changes = {
        "listen on headphones only": {"listens": "headphones"},
        "a desk whose buttons messages can set": {"desk": "osc"},
        "a relay between headphones and speakers": {"changeover": "relay"},
    }
    for way in told["ways_out"]:
        options = [word.removeprefix("--") for word in IMPOSSIBLE]
        words_of = dict(zip(options[::2], options[1::2], strict=True)) | changes[way]
        assert try_out(from_options(None, words_of), FILE).holds, way


def test_the_guest_is_given_up_last_of_all(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Three changes keep the guest of an interview; one would send the guest away."""
    few = ("--pairs", "1", "--captures", "1", "--feeds", "stream")
    told = said(capsys, tmp_path / "studio.yaml", *IMPOSSIBLE, *few, "--json")[1]
    ways = json.loads(told)["ways_out"]
    assert any("listen on headphones only; and a computer" in way for way in ways)
    assert not any("no far guest" in way for way in ways)


def test_a_button_with_nothing_to_switch_is_left_out_and_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options = ("--desk", "hand", "--listens", "headphones", "--button", "pedal")
    code, text = said(capsys, tmp_path / "studio.yaml", *options)
    assert code == 0
    assert "no pedal is in it: this desk is set by hand" in text


def test_two_guests_get_a_mix_each_with_the_other_and_never_themselves() -> None:
    text = studio_text(STARTERS["debate"], "debate.yaml")
    (scene,) = re.findall(r"  call:\n(?:    .*\n)+", text)
    assert "    call 1: [mic, bell, sceptic]\n" in scene
    assert "    call 2: [mic, bell, advocate]\n" in scene
    assert "  - advocate hears sceptic in call\n" in text


# Options and questions


def test_the_list_names_every_starting_studio(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, text = said(capsys, "--list")
    assert code == 0
    assert all(f"\n{name} " in text for name in STARTERS)


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        (["--from", "observatry"], 'did you mean "observatory"?'),
        (["--desk", "hnad"], 'did you mean "hand"?'),
        (["--changeover", "gpio"], "changeover must be one of relay, board, messages"),
        (["--desk", "OSC"], "wrote"),
        (["--pairs", "4"], 'pairs must be 1, 2 or 3, got "4"'),
        (
            ["--from", "debate", "--desk", "hand"],
            "two guests, each in a call of their own, need a desk that messages",
        ),
        (["--people", "a,b,c"], "1 or 2 people can talk here, got 3"),
        (["--people", "a,a"], '"a" is the name of two things'),
        (["--people", "speakers"], '"speakers" is the name of two things'),
        (["--guests", "it's me"], "cannot be a name"),
        (["--guests", "you and me"], "cannot be a name"),
        (["--guests", ","], "cannot be a name"),
        (["--room", ""], "wrote"),
        (["--name", " "], "must have a name"),
        (["--instruments", "a,b"], "one instrument fits"),
    ],
)
def test_answers_that_cannot_be(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    words: list[str],
    answer: str,
) -> None:
    file = tmp_path / "studio.yaml"
    code, text = said(capsys, file, *words)
    assert answer in text
    assert file.exists() is (code == 0)


def test_a_name_that_yaml_would_take_for_more_is_quoted() -> None:
    answers = replace(STARTERS["diary"], name='Tower: "late" # show')
    tried = try_out(answers, FILE)
    assert tried.holds
    assert 'studio: "Tower: \\"late\\" # show"' in tried.text


def test_without_answers_and_without_a_person_it_says_how(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO())
    code, text = said(capsys, tmp_path / "studio.yaml")
    assert code == 2
    assert "nobody is here to be asked" in text
    assert said(capsys)[0] == 2


def test_questions_lead_to_the_same_answers_as_options() -> None:
    ask, prompts = replies(
        "Tide mill", "loft", "miller", "grower", "stream", "bells", "", "osc", "2"
    )
    words = {
        "name": "Tide mill",
        "room": "loft",
        "people": "miller",
        "guests": "grower",
        "feeds": "stream",
        "plays": "bells",
        "desk": "osc",
        "pairs": "2",
    }
    assert asked(ask) == from_options(None, words)
    assert prompts[0].endswith("means none.\nWhat is the studio called? [My studio] ")
    assert prompts[1] == "What is the room called? [studio] "
    assert prompts[7] == "How are the desk's buttons set? osc, messages, hand [osc] "


def test_a_question_that_makes_no_sense_is_not_asked() -> None:
    ask, prompts = replies("Attic", "", "", "", "", "nothing", "", "hand", "headphones")
    answers = asked(ask)
    assert answers.listens is Listens.HEADPHONES
    assert not any("pairs" in p or "press" in p or "switches" in p for p in prompts)


def test_a_wrong_answer_is_asked_again_with_the_reason_and_not_for_ever() -> None:
    ask, prompts = replies("Attic", "", "a, b, c", "a, b")
    assert asked(ask).people == ("a", "b")
    assert prompts[3].startswith("1 or 2 people can talk here, got 3\n")
    ask, _ = replies("Attic", "", *["a, b, c"] * 5)
    with pytest.raises(CouldNotRunError, match="5 answers to one question"):
        asked(ask)


def test_somebody_who_goes_away_gets_a_plain_word() -> None:
    def gone(_: str) -> str:
        raise EOFError

    with pytest.raises(CouldNotRunError, match="the answers ended too early"):
        asked(gone)
