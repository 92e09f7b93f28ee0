"""A desk on a JACK server, by python-rtmidi, in a process of its own.

`python -m tests.fakes.jack_desk NAME`: what comes in on standard input as hex is sent
by "NAME keys", what "NAME ears" hears is printed as hex. It ends with that input.
"""

from __future__ import annotations

import os
import select
import sys

import rtmidi

POLL_S = 0.002


def say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main() -> None:
    name = sys.argv[1]
    api = rtmidi.API_UNIX_JACK
    out = rtmidi.MidiOut(api, name=f"{name} keys")
    ears = rtmidi.MidiIn(api, name=f"{name} ears")
    out.open_virtual_port("out")
    ears.open_virtual_port("in")
    say("ready")
    begun = b""
    while True:
        if select.select([0], [], [], POLL_S)[0]:
            read = os.read(0, 4096)
            if not read:
                os._exit(0)  # closing a JACK client may hang, and this is the end
            *lines, begun = (begun + read).split(b"\n")
            for line in lines:
                out.send_message(list(bytes.fromhex(line.decode())))
        while (heard := ears.get_message()) is not None:
            say(bytes(heard[0]).hex())


if __name__ == "__main__":
    main()
