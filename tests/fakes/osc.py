"""Gear over OSC that is only a fake."""

from bridge.adapters.osc_codec import Dropped, encode
from bridge.core.wire import Message, Osc
from tests.fakes.port import FakePort


class FakeOscPort(FakePort):
    """Carries what OSC can carry."""

    def misfit(self, message: Message) -> str:
        if not isinstance(message, Osc):
            return f"not OSC: {message}"
        packet = encode(message)
        return packet.cause if isinstance(packet, Dropped) else super().misfit(message)
