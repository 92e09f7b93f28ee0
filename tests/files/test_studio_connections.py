"""What a studio file becomes: buttons, connections, limits.

The bytes of control changes and notes: MIDI 1.0 Detailed Specification.
"""

from pathlib import Path

from bridge.core.button import Gesture
from bridge.core.connection import InputLine, Keyboard, MidiDevice, OscPeer, OutputLine
from bridge.core.studio import Studio
from tests.fakes.studio_files import EXAMPLE, load_text, whole


def test_a_pedal_has_its_key_and_rounds(observatory: Studio) -> None:
    (pedal,) = observatory.buttons
    assert pedal.key == ("pedal", "midi", bytes.fromhex("B0 40"))
    assert pedal.down_from == 64.0
    assert pedal.rounds == {
        Gesture.TAP: ("phones", "speakers"),
        Gesture.HOLD: ("remote call",),
    }


def test_two_pads_of_one_device_share_its_connection(harbour: Studio) -> None:
    pads = {b.name: b.key for b in harbour.buttons if b.name.startswith("pad ")}
    assert pads == {
        "pad 1": ("pad 1", "midi", bytes.fromhex("99 24")),
        "pad 2": ("pad 1", "midi", bytes.fromhex("99 25")),
    }
    devices = [c.device for c in harbour.connections if isinstance(c, MidiDevice)]
    assert devices == ["Desk MIDI 1", "Monitor Controller", "Pedal", "Pads"]


def test_gear_may_be_spoken_to_over_tcp(tmp_path: Path) -> None:
    over = 'desk-osc, osc: "192.168.4.20:9000", over: tcp slip'
    text = EXAMPLE.replace('desk-control-change, midi: "Desk MIDI 1"', over)
    studio = whole(load_text(tmp_path, text))
    peer = OscPeer("desk", "192.168.4.20", 9000, over="tcp slip")
    assert studio.connections[0] == peer


def test_every_kind_of_connection(tmp_path: Path) -> None:
    text = EXAMPLE.replace(
        'desk-control-change, midi: "Desk MIDI 1"',
        'desk-osc, osc: "mixer.lan:9000", listen: 9001',
    ).replace("line: 17}", "line: GPIO17, chip: pinctrl-rp1, released: high}")
    text += (
        "  far pedal:\n    from: {osc: /pedal, sender: 10.0.0.7, listen: 9721}\n"
        "    tap: phones\n"
        "  deck:\n    from: {osc: /deck, sender: 10.0.0.8, listen: 9721, over: tcp}\n"
        "    tap: phones\n"
        "  left:\n    from: {keyboard: Foot Switch, key: page up}\n    tap: phones\n"
        "  right:\n    from: {keyboard: Foot Switch, key: B}\n    tap: phones\n"
        "  switch:\n    from: {line: 27}\n    contact: normally closed\n"
        "    tap: phones\n    hold after: 1 s\n    lockout: 20 ms\n"
    )
    studio = whole(load_text(tmp_path, text))
    assert studio.connections == (
        OscPeer("desk", "mixer.lan", 9000, 9001),
        OutputLine("changeover", "pinctrl-rp1", "GPIO17", released_high=True),
        MidiDevice("pedal", "Pedal"),
        OscPeer("far pedal", "10.0.0.7", 9721, 9721),
        OscPeer("deck", "10.0.0.8", 9721, 9721, "tcp"),
        Keyboard("left", "Foot Switch"),
        InputLine("switch", "gpiochip0", 27),
    )
    far, _, left, right, switch = studio.buttons[1:]
    assert left.key == ("left", "key", "page up")
    assert right.key == ("left", "key", "b"), "two keys of one box share it"
    assert far.key == ("far pedal", "osc", "/pedal")
    assert switch.key == ("switch", "line", "")
    assert (switch.inverted, switch.hold_ms, switch.lockout_ms) == (True, 1000.0, 20.0)


def test_limits_carry_their_reasons(tmp_path: Path) -> None:
    text = EXAMPLE + (
        "limits:\n"
        "  stability margin: 9 dB because the dome rings for 2 s\n"
        "  silent at an ear: 25 dB because the ventilation is louder\n"
        "  strict open microphone: on because we are on the air\n"
        "lives without:\n"
        "  - open-microphone for mic and speakers because the dome is small\n"
        "service: {port: 9800}\n"
    )
    studio = whole(load_text(tmp_path, text))
    assert studio.limits.stability_margin_db == 9.0
    assert studio.limits.silent_ear_db_spl == 25.0
    assert studio.limits.strict_open_microphone
    assert studio.own_limits["stability_margin_db"].reason == "the dome rings for 2 s"
    (waiver,) = studio.waivers
    assert (waiver.rule, waiver.about) == ("open-microphone", ("mic", "speakers"))
    assert waiver.reason == "the dome is small"
    assert studio.door_port == 9800


def test_levels_of_sentences_are_in_the_listener_s_scale(tmp_path: Path) -> None:
    text = EXAMPLE.replace("in remote call\n", "in remote call above 60 dB\n").replace(
        "hears presenter always", "hears presenter always above -12 dB"
    )
    studio = whole(load_text(tmp_path, text))
    levels = [sentence.level_db for sentence in studio.sentences]
    assert levels == [60.0 - 94.0, -12.0, None]


def test_the_rated_life_of_a_relay_is_told(tmp_path: Path) -> None:
    rated = load_text(tmp_path, EXAMPLE).rated_life
    assert rated == {"changeover: position": 100_000}
