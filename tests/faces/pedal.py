"""A pedal as a program of its own: a JACK client "Pedal" that sends control changes.

    python tests/faces/pedal.py        each line "127" or "0" on standard input is sent

It uses python-rtmidi and nothing of this project.
"""

import sys

import rtmidi

pedal = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="Pedal")
pedal.open_virtual_port("out")
sys.stdout.write("ready\n")
sys.stdout.flush()
for line in sys.stdin:
    pedal.send_message([0xB0, 64, int(line)])
pedal.close_port()
pedal.delete()
