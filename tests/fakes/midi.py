"""A MIDI device that is only a fake."""

from bridge.core.midi_stream import is_whole
from bridge.core.wire import Message, Midi
from tests.fakes.port import FakePort


class FakeMidiPort(FakePort):
    """Carries whole MIDI messages."""

    def misfit(self, message: Message) -> str:
        if not isinstance(message, Midi) or not is_whole(message.data):
            return f"not one MIDI message: {message}"
        return super().misfit(message)
