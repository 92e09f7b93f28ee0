"""Which GPIO line is meant: chips by path or label, lines by name or offset.

Everything here looks at devices and may wait, so it is called in a thread, and
everything that can be wrong is an OSError in words for the person.
"""

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from pathlib import Path
from types import TracebackType
from typing import Any, Final, NoReturn, Protocol, Self

CONSUMER: Final = "treadle"
"""The name under which the kernel shows who holds a line."""

EDGES_KEPT: Final = 1024
"""Edges that the kernel keeps for us: seconds of a contact that never rests."""


class Chip(Protocol):
    """What is used of a gpiod chip; all of it may raise OSError."""

    def get_info(self) -> Any:  # noqa: ANN401
        """Return an object with `name`, `label` and `num_lines`."""

    def line_offset_from_id(self, name: str, /) -> int:
        """Return the offset of a named line."""

    def get_line_info(self, line: int, /) -> Any:  # noqa: ANN401
        """Return an object with `used` and `consumer`."""

    def request_lines(
        self,
        config: Any,  # noqa: ANN401
        consumer: str,
        event_buffer_size: int,
    ) -> Any:  # noqa: ANN401
        """Take lines and return the request."""

    def __enter__(self) -> Self:
        """Return the chip, opened."""

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
        /,
    ) -> None:
        """Close it; requested lines stay taken."""


OpenChip = Callable[[str], Chip]
Paths = Callable[[], Sequence[str]]


def gpiod_chip(path: str) -> Chip:
    """Open a chip with the library. Raises ImportError or OSError."""
    import gpiod

    return gpiod.Chip(path)


def chip_paths() -> Sequence[str]:
    """Return the chips of this computer, each once, by number."""
    found = {str(path.resolve()) for path in Path("/dev").glob("gpiochip*")}
    return sorted(found, key=lambda path: (len(path), path))


def take(
    line: int | str,
    chip: str | None,
    settings: object,
    open_chip: OpenChip,
    paths: Paths,
) -> tuple[Any, int]:
    """Return the request of one line, and its offset.

    Without a chip, a line is looked for on all of them: by its name, or a number n as
    the line that is called "GPIOn". Raises OSError.
    """
    with ExitStack() as opened:
        chips = {path: _opened(path, open_chip, opened) for path in paths()}
        if not chips:
            _say("this computer shows no GPIO chip")
        path, offset = _place(line, chip, chips)
        return _requested(chips[path], offset, settings), offset


def holder(line: int | str, chip: str | None, open_chip: OpenChip, paths: Paths) -> str:
    """Return who has the line, "" if nobody has. Raises OSError."""
    with ExitStack() as opened:
        chips = {path: _opened(path, open_chip, opened) for path in paths()}
        path, offset = _place(line, chip, chips)
        info = chips[path].get_line_info(offset)
        return str(info.consumer or "the kernel") if info.used else ""


def _opened(path: str, open_chip: OpenChip, stack: ExitStack) -> Chip:
    try:
        return stack.enter_context(open_chip(path))
    except PermissionError:
        _say(f"{path} may not be opened: become a member of its group")


def _place(
    line: int | str, chip: str | None, chips: dict[str, Chip]
) -> tuple[str, int]:
    infos = {path: one.get_info() for path, one in chips.items()}
    meant = [
        path
        for path, info in infos.items()
        if chip is None or chip in {path, info.name, info.label}
    ]
    listed = ", ".join(f'{path} "{info.label}"' for path, info in infos.items())
    if not meant:
        _say(f"there is no such chip: write one of those that are there ({listed})")
    if chip is not None and isinstance(line, int):
        found = [(path, line) for path in meant if 0 <= line < infos[path].num_lines]
    else:
        name = f"GPIO{line}" if isinstance(line, int) else line
        offsets = {path: _offset(chips[path], name) for path in meant}
        found = [(path, at) for path, at in offsets.items() if at is not None]
    if not found:
        _say(f"there is no such line: look at the board's list of lines ({listed})")
    if len(found) > 1:
        _say(f"{len(found)} chips have it: write the chip too, by its path ({listed})")
    return found[0]


def _offset(chip: Chip, name: str) -> int | None:
    try:
        return chip.line_offset_from_id(name)
    except OSError:
        return None


def _requested(chip: Chip, offset: int, settings: object) -> Any:  # noqa: ANN401
    try:
        return chip.request_lines({offset: settings}, CONSUMER, EDGES_KEPT)
    except OSError:
        info = chip.get_line_info(offset)
        if not info.used:
            raise
        holder = info.consumer or "the kernel"
        _say(f"{holder} has it: end that, or use another line")


def _say(words: str) -> NoReturn:
    raise OSError(words)
