"""The ears of a simulated MIDI desk: a program of its own that prints what arrives.

    python -m bridge.faces.simears NAME

It is the JACK client NAME. Like the desk it uses nothing of this package; and it is no
part of the desk's process, because what is waited for in JACK can not be waited for
beside a socket.
"""

from __future__ import annotations

import select
import sys

POLL_S = 0.001


def main() -> None:
    """Print each message in hex on a line of its own, until standard input ends."""
    import rtmidi  # noqa: TID251  a second opinion, not the service's

    ears = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name=sys.argv[1])
    ears.open_virtual_port("in")
    try:
        while not select.select([sys.stdin], [], [], POLL_S)[0]:
            while (found := ears.get_message()) is not None:
                sys.stdout.write(" ".join(f"{byte:02x}" for byte in found[0]) + "\n")
                sys.stdout.flush()
    finally:
        ears.close_port()
        ears.delete()


if __name__ == "__main__":
    main()
