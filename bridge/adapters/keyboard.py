"""A pedal that is a keyboard: heard by us alone, so that it types nowhere.

Strategy: a box is told by its name, as the kernel has it, and two of one name by the
order of their sockets; all the devices that one box shows are held together. Whatever
fails, all is let go of and looked for again. A key that is held repeats itself, which
says nothing; and what a key was when the box came is not told, only what it does.
"""

import asyncio
import os
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

from bridge.adapters.attempts import Attempts, off_the_loop
from bridge.adapters.key_files import Held, KeyFile, Listing, Node, Opening, key_nodes
from bridge.adapters.key_stream import EVENT, KeyStream, Missed, Moved
from bridge.adapters.midi_names import nearest
from bridge.adapters.presence import Adapter, in_words
from bridge.core.wire import Keystroke, Message
from bridge.engine.ports import Deliver

AGAIN_S: Final = 1.0
"""Between two looks for a box that is not there: quick for who plugs it in."""

READ_BYTES: Final = 64 * EVENT.size
"""Read before the loop gets its turn; a key makes three events, a hand ten a second."""

STAMP_S: Final = 1.0
"""How old a kernel's stamp may be to be believed; the loop is never that late."""


class KeyboardPort(Adapter):
    """All keys of one box: `Keystroke(name, code, down)` for each movement.

    `device` is the box's name, or the path of one device file. `nth` settles twins.
    """

    def __init__(
        self,
        name: str,
        device: str,
        nth: int | None = None,
        *,
        board: tuple[Listing, Opening] = (key_nodes, KeyFile),
    ) -> None:
        super().__init__(name)
        self._device, self._nth, self._board = device, nth, board
        self._files: list[_Open] = []
        self._gone: Counter[str] = Counter()
        self._attempts = Attempts(self._take)

    @property
    def drops(self) -> dict[str, int]:
        """Dropped messages by cause."""
        return Counter(self._presence.drops) + sum(
            (one.stream.drops for one in self._files), self._gone
        )

    async def open(self, deliver: Deliver) -> None:
        """Take the box; says `Found`, or `Lost` and tries again."""
        self._presence.begin(deliver, asyncio.get_running_loop().time)
        await self._attempts.begin()

    def send(self, message: Message) -> None:
        """Refuse: a pedal is only heard. Raises PortGone."""
        self._presence.refuse("sent to a pedal", f"a keyboard cannot send {message}")

    async def close(self) -> None:
        """Let go of the box. Safe to call twice."""
        self._presence.hush()
        await self._attempts.end()
        self._let_go()

    # Coming and going

    async def _take(self) -> None:
        # Looking through the devices reads files, and opening may wake a bus.
        try:
            files = await off_the_loop(
                lambda: take(self._device, self._nth, self._board), _close_all
            )
        except (OSError, ValueError) as error:
            self._fail(in_words(error))
            return
        self._files = [_Open(file) for file in files]
        for one in self._files:
            asyncio.get_running_loop().add_reader(
                one.file.fileno(), self._readable, one
            )
        self._presence.found()

    def _fail(self, why: str) -> None:
        self._let_go()
        self._presence.lost(f"the keyboard cannot be heard: {why}")
        self._attempts.again(AGAIN_S)

    def _let_go(self) -> None:
        files, self._files = self._files, []
        for one in files:
            asyncio.get_running_loop().remove_reader(one.file.fileno())
            self._gone.update(one.stream.drops)
            one.file.close()

    # Hearing

    def _readable(self, one: "_Open") -> None:
        try:
            data = os.read(one.file.fileno(), READ_BYTES)
            if not data:
                self._fail(f'"{self._device}" has gone: plug it in')
                return
            for event in one.stream.feed(data):
                if isinstance(event, Missed):
                    self._look_anew(one)
                else:
                    self._moved(one, event)
        except BlockingIOError:
            return
        except OSError as error:
            self._fail(f'"{self._device}": {in_words(error)}: plug it in')

    def _look_anew(self, one: "_Open") -> None:
        """Events were lost: say what is otherwise than it was told. Raises OSError."""
        down, now = set(one.file.down()), asyncio.get_running_loop().time()
        for code in sorted(one.down - down):
            self._moved(one, Moved(code, down=False, at_s=now))
        for code in sorted(down - one.down):
            self._moved(one, Moved(code, down=True, at_s=now))

    def _moved(self, one: "_Open", key: Moved) -> None:
        (one.down.add if key.down else one.down.discard)(key.code)
        now = asyncio.get_running_loop().time()
        stamp = key.at_s if now - STAMP_S <= key.at_s <= now else now
        self._presence.heard(Keystroke(self.name, key.code, key.down), stamp)


class _Open:
    """A file that is held; down: the keys that were told to be down."""

    def __init__(self, file: Held) -> None:
        self.file, self.stream = file, KeyStream()
        self.down: set[int] = set()


def take(device: str, nth: int | None, board: tuple[Listing, Opening]) -> list[Held]:
    """Hold every file of the box that is meant. Raises OSError or ValueError."""
    listing, opening = board
    files: list[Held] = []
    path = device
    try:
        for path in (
            [device] if device.startswith("/") else paths_of(device, nth, listing())
        ):
            files.append(opening(path))
    except OSError as error:
        for file in files:
            file.close()
        msg = (
            f"{path}: {in_words(error)}: end the program that has it, and be a member "
            'of the group "input"'
        )
        raise OSError(msg) from error
    return files


def paths_of(device: str, nth: int | None, nodes: Sequence[Node]) -> list[str]:
    """Return the files of the box that is meant. Raises ValueError, in words."""
    boxes: dict[str, list[str]] = {}
    for node in nodes:
        if node.name == device:
            boxes.setdefault(node.where, []).append(node.path)
    if len(boxes) == 1 and nth in (None, 1):
        return next(iter(boxes.values()))
    if nth is not None and nth <= len(boxes):
        return list(boxes.values())[nth - 1]
    if not boxes:
        there = nearest(device, {node.name for node in nodes})
        msg = (
            f'no keyboard is called "{device}": plug it in, or write the name of one '
            f"that is there ({there})"
        )
        raise ValueError(msg)
    listed = ", ".join(f"{k} at {where}" for k, where in enumerate(boxes, 1))
    meant = f" and nth is {nth}" if nth is not None else ""
    msg = (
        f'"{device}" is the name of {len(boxes)} keyboards{meant}: write nth and the '
        f"number of one, by its socket ({listed})"
    )
    raise ValueError(msg)


def _close_all(files: Iterable[Held]) -> None:
    for file in files:
        file.close()
