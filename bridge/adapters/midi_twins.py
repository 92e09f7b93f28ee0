"""Which of several devices of one name is the one that was used before.

At the start `nth` counts them in the system's order, and a person sees whether that is
so. Later the order says nothing: it goes by who was plugged in first. So while the
service runs, a device that was used is known again by the socket where it is plugged
in, if the system tells that, or because all the others stayed where they were. If
neither tells, nothing is guessed: a message meant for one desk must not go to another.
"""

from collections.abc import Collection, Iterable, Sequence

from bridge.adapters.midi_backend import Device, Link
from bridge.adapters.midi_names import called


class Twin:
    """Remembers the device of one port from the first link to it on."""

    def __init__(self) -> None:
        self.link: Link | None = None
        self._was_away = False
        self._beside: set[str] = set()

    def linked(self, link: Link, alike: Iterable[Device]) -> None:
        """This is the device; alike: all of its name that are there now."""
        self.link, self._was_away = link, False
        own = {end.address for end in _ends(link)}
        self._beside = {device.address for device in alike} - own

    def is_there(self, devices: Collection[Device]) -> bool:
        """Whether it is where it was and has been so all the time.

        devices: all that are there now; to be told of each change of them.
        """
        self._beside &= {device.address for device in devices}
        if self.link is None:
            return False
        if not set(_ends(self.link)) <= set(devices):
            self._was_away = True
        return not self._was_away

    def again(
        self,
        wanted: str,
        was: Device | None,
        devices: Sequence[Device],
        taken: Collection[str],
    ) -> Device | str | None:
        """The device that it was, None if there is none, or why nobody can know.

        taken: addresses that other ports hold.
        """
        found = called(wanted, devices) if was is not None else []
        if was is None or not found:
            return None
        if was.socket:
            same = [device for device in found if device.socket == was.socket]
            if len(same) == 1:
                return same[0]
        others = self._beside.union(taken)
        left = [device for device in found if device.address not in others]
        if not left:
            return (
                f'the MIDI device called "{wanted}" that nth means is out, and another '
                "of that name is there: plug it in"
            )
        if len(left) == 1 and len(left) < len(found):
            return left[0]
        return (
            f'MIDI devices called "{wanted}" were out at once, and which of those that '
            "nth counts is which now, nobody knows: plug each in where it was; if that "
            "does not bring it, start the service anew and see which one follows"
        )


def _ends(link: Link) -> tuple[Device, ...]:
    return tuple(end for end in (link.source, link.sink) if end is not None)
