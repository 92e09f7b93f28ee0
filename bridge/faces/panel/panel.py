"""The panel's own state: what happened, what was reckoned, and when to reckon again.

Strategy: what the service knows by itself goes to the pages at once, from the event
loop. What takes reckoning (is it safe, who hears what) is done by one worker thread
with a judge and a planner of its own, so a press on the pedal never waits for it; the
pages get that a moment later, marked as the same look. Nothing is reckoned while no
page is open.
"""

from __future__ import annotations

import asyncio
import json
import secrets
from collections import deque
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Any, TypeVar

from bridge.core.cures import value_words
from bridge.core.effects import Tell
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.studio import Studio
from bridge.faces.flow.chart import chart
from bridge.faces.flow.svg import to_svg
from bridge.faces.outcome import finite
from bridge.faces.panel import judged, looks, now
from bridge.faces.panel.happened import MOST_RECORDS, Before, Past, before, happened
from bridge.faces.panel.hub import Hub
from bridge.faces.panel.looks import SetUp
from bridge.faces.panel.shelf import Shelf
from bridge.faces.panel.snapshot import Bench, Record, Snapshot

MOST_REMEMBERED = 64
"""Looks remembered by what was believed; a studio has tens of settings, and scenes
are gone back and forth between."""

Json = dict[str, Any]
T = TypeVar("T")


class Panel:
    """One for each service. All but `_reckon*` runs in the event loop."""

    def __init__(
        self,
        studio: Studio,
        set_up: SetUp,
        bench: Bench,
        clock: Callable[[], float],
        wall: Callable[[], float],
        past: Past | None = None,
    ) -> None:
        """past: reads the journal that this service keeps, if it does."""
        self.hub = Hub()
        self.boot = secrets.token_hex(8)
        self._studio, self._set_up, self._bench = studio, set_up, bench
        self._clock, self._wall, self._past = clock, wall, past
        self._begun = wall()
        self._records: deque[Record] = deque(maxlen=MOST_RECORDS)
        self._judge = HouseJudge(studio)
        self._planner = Planner(self._judge)
        self._worker = ThreadPoolExecutor(1, thread_name_prefix="panel")
        self._shelf = Shelf()
        self._reckoned: dict[str, tuple[Json, list[Json]]] = {}
        self._dirty = asyncio.Event()
        self._unjudged = asyncio.Event()
        self._count = 0
        self._told = 0
        self._shown: object = None

    # What the service tells

    def told(self, record: Tell, at: float) -> None:
        """Something happened."""
        self._told += 1
        self._records.append(
            Record(
                record.told,
                record.words,
                at,
                self._wall() - (self._clock() - at),
                record.scene,
                record.controls,
                record.cure,
            )
        )
        self.changed()

    def adopt(self, studio: Studio, set_up: SetUp, judge: HouseJudge) -> None:
        """Show this studio from now on: its file was read anew.

        judge: for this panel alone; making one takes longer than the loop may wait.
        """
        self.boot = secrets.token_hex(8)
        self._studio, self._set_up = studio, set_up
        self._judge, self._planner = judge, Planner(judge)
        self._reckoned.clear()
        self.opened()

    def changed(self) -> None:
        """Something may look different now."""
        self._dirty.set()

    def opened(self) -> None:
        """A page has opened: show it how things stand, changed or not."""
        self._shown = None
        self._dirty.set()

    def close(self) -> None:
        """End all streams and the worker."""
        self.hub.close()
        self._dirty.set()
        self._worker.shutdown(wait=False, cancel_futures=True)

    async def run(self) -> None:
        """Bring every change to the open pages; ends when cancelled."""
        async with asyncio.TaskGroup() as tasks:
            tasks.create_task(self._show_changes())
            tasks.create_task(self._reckon_changes())

    async def _show_changes(self) -> None:
        """What the service knows is shown at once."""
        while True:
            await self.hub.wanted.wait()
            await self._dirty.wait()
            self._dirty.clear()
            look = self._bench.look()
            known = self._reckoned.get(_key(look))
            # A question that brings nothing new is no reason to wake every page.
            known_now = (_key(look), look.state, look.heading, look.absent)
            hands = (look.by_hand, look.later_by_hand, look.unsure_by_hand)
            lamps = (look.lamps, look.untold)
            shown = (known_now, hands, lamps, self._told)
            if (shown, known is None) == self._shown:
                continue
            self._shown = (shown, known is None)
            self._publish(look, known)
            if known is None:
                self._unjudged.set()

    async def _reckon_changes(self) -> None:
        """What takes reckoning follows, for the newest look only."""
        while True:
            await self._unjudged.wait()
            self._unjudged.clear()
            look = self._bench.look()
            if _key(look) in self._reckoned:
                continue
            judge = self._judge
            found = await self._off_loop(partial(_reckon, judge, look))
            if judge is not self._judge:
                continue  # another studio has taken over, and wants its own
            if len(self._reckoned) >= MOST_REMEMBERED:
                self._reckoned.pop(next(iter(self._reckoned)))
            self._reckoned[_key(look)] = found
            self.changed()

    # What pages ask for

    async def hears(self) -> Json:
        """Who hears what."""
        look, judge = self._bench.look(), self._judge
        return await self._off_loop(lambda: looks.hears(judge, look))

    async def crossings(self) -> Json:
        """What each press would do."""
        look, judge, planner = self._bench.look(), self._judge, self._planner
        return await self._off_loop(lambda: looks.crossings(judge, planner, look))

    async def flow(self) -> str:
        """The drawing of the flow, as SVG."""
        look, judge = self._bench.look(), self._judge
        title = self._title(look)
        return await self._off_loop(
            lambda: to_svg(chart(judge, look.belief, title), alone=False)
        )

    async def happened(self) -> Json:
        """The journal, faults and figures; of before the start what the disk holds."""
        records, dropped = tuple(self._records), self._bench.dropped()
        shown = partial(happened, records, dropped, self._clock())
        past = self._past
        if past is None:
            return shown(Before())
        first = records[0].when if records else self._begun
        return shown(await self._shelf.read(partial(before, past, first)))

    def set_up(self) -> Json:
        """Findings, hand checklist, patch."""
        return looks.set_up(self._studio, self._set_up)

    async def ask(self, words: tuple[str, ...], wait_s: float) -> Json:
        """Ask the service, and wait for how it ends. Raises TimeoutError."""
        loop = asyncio.get_running_loop()
        answer: asyncio.Future[str] = loop.create_future()

        def reply(text: str) -> None:
            if not answer.done():
                answer.set_result(text)

        self._bench.ask(words, reply)
        try:
            async with asyncio.timeout(wait_s):
                found = json.loads(await answer)
        except TimeoutError:
            if not self._bench.look().by_hand:
                raise
            found = {"ended": "by hand", "words": "it waits for you"}
        return found if isinstance(found, dict) else {"words": str(found)}

    def knows(self, words: tuple[str, ...]) -> bool:
        """Whether the studio has such a button with such a gesture, or such a scene."""
        match words:
            case ("press", name, gesture):
                rounds = {b.name: b.rounds for b in self._studio.buttons}.get(name, {})
                return gesture in {made.value for made in rounds}
            case ("go", scene):
                return scene in self._studio.scenes
            case ("done",):
                return True
            case ("hand", name, value):
                control = self._studio.controls.get(name)
                return control is not None and value in map(value_words, control.values)
            case _:
                return False

    # Showing

    def _publish(self, look: Snapshot, known: tuple[Json, list[Json]] | None) -> None:
        self._count += 1
        shown = now.quick(self._studio, look, tuple(self._records))
        shown |= {
            "boot": self.boot,
            "number": self._count,
            "safety": known[0] if known else {"state": "looking"},
            "people": known[1] if known else None,
        }
        self.hub.publish(encoded(shown))

    def _title(self, look: Snapshot) -> str:
        where = " and ".join(look.scenes) or "no scene"
        return f"{self._studio.name}: {where}"

    async def _off_loop(self, made: Callable[[], T]) -> T:
        """One after the other in the worker: its judge is no one else's."""
        return await asyncio.get_running_loop().run_in_executor(self._worker, made)


def _reckon(judge: HouseJudge, look: Snapshot) -> tuple[Json, list[Json]]:
    return judged.safety(judge, look), judged.hearing(judge, look.possible)


def encoded(value: Mapping[str, Any]) -> bytes:
    """As JSON in one line, with nothing in it that JSON does not have."""
    return json.dumps(finite(value), ensure_ascii=False).encode()


def _key(look: Snapshot) -> str:
    possible = [
        sorted((n, sorted(map(str, v))) for n, v in belief.items())
        for belief in look.possible
    ]
    return repr((look.scenes, possible))
