"""Every bench, by the name of its port."""

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager

from tests.adapters.rigs.fakes import (
    fake_midi,
    fake_osc,
    fake_pedal,
    fake_relay,
    fake_relay_board,
    kept_telling,
)
from tests.adapters.rigs.lines import (
    contact_in,
    contact_out,
    imagined,
    imagined_board,
    keyboard,
    modbus_over_serial,
    modbus_over_tcp,
)
from tests.adapters.rigs.midi import (
    HAS_ALSA,
    HAS_RTMIDI,
    midi_file_device,
    midi_on_a_bench,
    midi_over_a_real_sequencer,
    midi_over_alsa,
    midi_over_jack,
)
from tests.adapters.rigs.osc import (
    osc_door,
    osc_over_slip,
    osc_over_tcp,
    osc_over_udp,
    osc_tcp_door,
)
from tests.adapters.rigs.rig import Rig

RIGS: dict[str, Callable[[], AbstractAsyncContextManager[Rig]]] = {
    "fake osc": fake_osc,
    "fake midi": fake_midi,
    "fake relay": fake_relay,
    "fake relay board": fake_relay_board,
    "fake pedal": fake_pedal,
    "kept telling": kept_telling,
    "osc over udp": osc_over_udp,
    "osc door": osc_door,
    "osc over tcp": osc_over_tcp,
    "osc over slip": osc_over_slip,
    "osc tcp door": osc_tcp_door,
    "midi on a bench": midi_on_a_bench,
    "midi over alsa": midi_over_alsa,
    **({"midi over jack": midi_over_jack} if HAS_RTMIDI else {}),
    **({"midi over a real sequencer": midi_over_a_real_sequencer} if HAS_ALSA else {}),
    "midi device file": midi_file_device,
    "contact out": contact_out,
    "contact in": contact_in,
    "keyboard": keyboard,
    "imagined contact": imagined,
    "imagined board": imagined_board,
    "modbus over tcp": modbus_over_tcp,
    "modbus over serial": modbus_over_serial,
}
