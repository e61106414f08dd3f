"""Searches that go on while pages come and go: kept in the database, told to whoever listens.

Each lay has a thread of its own that runs its rounds; the worker processes are shared, so several
lays advance side by side. What a round improves is written down before it is told.
"""

from __future__ import annotations

import asyncio
import itertools
import threading
from collections.abc import AsyncIterator, Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy.exc import SQLAlchemyError

from nesting.pieces.piece import Style
from service import pipeline
from service.errors import BusyError
from service.errors_http import describe
from service.logs import get_log
from service.owned import lay_on_owned, with_held
from service.pool import WorkerPool
from service.rounds import ClothSearch, Report, Search, cloth_json
from service.schemas import LayRequest
from service.store import lays
from service.store.database import Database
from service.wishes import wishes_of

SIDE_BY_SIDE = 3
"""Lays searched at the same time; the others wait."""

DEFAULT_SECONDS = 10.0

WORKERS_GONE = ("workers_lost", "worker_hung")
"""Errors that end a search with what it has."""

log = get_log("searches")


@dataclass(frozen=True, slots=True)
class Event:
    """Something to tell the pages: ``name`` is ``cloth`` or ``state``."""

    id: int
    name: str
    data: dict[str, Any]


@dataclass(slots=True, eq=False)
class Listener:
    """One page that listens to a lay, or to all cuttings. Of several events for the same thing only
    the last waits: a slow page misses improvements, never the end."""

    loop: asyncio.AbstractEventLoop
    waiting: dict[str, Event] = field(default_factory=dict)
    arrived: asyncio.Event = field(default_factory=asyncio.Event)
    over: bool = False

    def tell(self, event: Event, *, last: bool) -> None:
        """Called from any thread."""

        def put() -> None:
            key = _subject(event)
            self.waiting.pop(key, None)
            self.waiting[key] = event
            self.over = self.over or last
            self.arrived.set()

        self.loop.call_soon_threadsafe(put)

    async def events(self, *, pause_s: float) -> AsyncIterator[Event | None]:
        """Events as they come; None when nothing came for ``pause_s``. Ends after the last."""
        while True:
            try:
                await asyncio.wait_for(self.arrived.wait(), pause_s)
            except TimeoutError:
                yield None
                continue
            self.arrived.clear()
            ready, self.waiting = list(self.waiting.values()), {}
            for event in ready:
                yield event
            if self.over:
                return


def _subject(event: Event) -> str:
    """What an event is about: a cloth of the lay, a cloth's cutting, or the lay's state."""
    if event.name == "cutting":
        return f"cutting {event.data['lay_id']} {event.data['cloth']}"
    return f"cloth {event.data.get('cloth', '')}" if event.name == "cloth" else "state"


@dataclass(slots=True)
class _Running:
    lay_id: str
    stop: threading.Event = field(default_factory=threading.Event)
    listeners: list[Listener] = field(default_factory=list)


class Searches:
    """All searches of the service."""

    def __init__(self, database: Database, pool: WorkerPool) -> None:
        self._database = database
        self._pool = pool
        self._threads = ThreadPoolExecutor(SIDE_BY_SIDE, thread_name_prefix="lay")
        self._lock = threading.Lock()
        self._running: dict[str, _Running] = {}
        self._numbers = itertools.count(1)

    def prepare(self, style: Style, request: LayRequest) -> Search:
        """The search for a request. Raises NestingError or ServiceError naming piece or field:
        what cannot be cut or laid is refused before anything is kept."""
        cut = pipeline.cut_style(style)
        wishes = wishes_of(request, style)
        runner = self._pool.limited(request.workers)
        return Search(cut, wishes, seed=request.seed, runner=runner)

    def start(self, lay_id: str, search: Search, request: LayRequest) -> None:
        """Let the lay's search begin as soon as a thread is free."""
        running = _Running(lay_id)
        with self._lock:
            self._running[lay_id] = running
        self._threads.submit(self._search, running, search, request)

    def stop(self, lay_id: str) -> None:
        """Ask the search to end after its round; its best layouts are kept."""
        with self._lock:
            running = self._running.get(lay_id)
        if running is not None:
            running.stop.set()

    @contextmanager
    def listening(self, lay_id: str) -> Iterator[Listener | None]:
        """A listener to the lay's search, or None if it is over."""
        listener = Listener(asyncio.get_running_loop())
        with self._lock:
            running = self._running.get(lay_id)
            if running is not None:
                running.listeners.append(listener)
        try:
            yield None if running is None else listener
        finally:
            if running is not None:
                with self._lock:
                    running.listeners.remove(listener)

    def next_number(self) -> int:
        """Number of the next event; they only grow."""
        return next(self._numbers)

    def recover(self, restart: Callable[[str], None]) -> None:
        """After a start: what was searching is stopped with its best so far; what had nothing yet is
        begun again by ``restart``."""
        with self._database.reading() as session:
            found = [
                (row.id, bool(lays.results_of(session, row.id))) for row in lays.unfinished(session)
            ]
        for lay_id, has_results in found:
            if has_results:
                self._end_at_restart(lay_id)
            else:
                self._begin_again(lay_id, restart)

    def stop_all(self) -> None:
        """Ask all searches to end."""
        with self._lock:
            for running in self._running.values():
                running.stop.set()

    def close(self) -> None:
        """Wait until all searches have ended. Called when the pool is closed, so that nobody waits
        for a round that runs: it is lost, what was found before is kept."""
        self._threads.shutdown(wait=True, cancel_futures=True)

    def _search(self, running: _Running, search: Search, request: LayRequest) -> None:
        lay_id = running.lay_id

        def report(_: Search, cloth: ClothSearch) -> None:
            self._keep(running, search, cloth, searching=True)

        try:
            self._set_state(running, "searching")
            search.begin(report, stop=running.stop.is_set)
            seconds = request.seconds
            if seconds is None and request.steps is None:
                seconds = DEFAULT_SECONDS
            lost = self._run(running, search, report, seconds=seconds, steps=request.steps)
            for cloth in search.cloths:
                self._keep(running, search, cloth, searching=False)
            stopped = running.stop.is_set() or lost is not None
            self._finish(running, "stopped" if stopped else "done", lost)
        except Exception as error:
            _, shape = describe(error)
            log.error("search failed", lay=lay_id, error=repr(error), exc_info=error)
            self._finish(running, "failed", shape.as_json()["error"])

    @staticmethod
    def _run(
        running: _Running,
        search: Search,
        report: Report,
        *,
        seconds: float | None,
        steps: int | None,
    ) -> dict[str, Any] | None:
        """Search, then lay what goes on cloth that is too short; what to tell if the workers were
        lost: every cloth has a layout by then, so the lay ends with what was found."""
        stop = running.stop.is_set
        try:
            search.run(report, seconds=seconds, steps=steps, stop=stop)
            lay_on_owned(search, seconds=seconds, steps=steps, stop=stop)
        except BusyError as error:
            # A round that was lost because somebody asked us to stop is no failure.
            if running.stop.is_set():
                return None
            if error.code not in WORKERS_GONE:
                raise
            log.warning("a search ended early", lay=running.lay_id, error=repr(error))
            told: dict[str, Any] = describe(error)[1].as_json()["error"]
            return told
        return None

    def _keep(
        self, running: _Running, search: Search, cloth: ClothSearch, *, searching: bool
    ) -> None:
        result = with_held(cloth_json(cloth, searching=searching), cloth)
        with self._database.writing() as session:
            lays.keep_result(session, running.lay_id, search.cloths.index(cloth), result)
        self._tell(running, "cloth", result)

    def _set_state(self, running: _Running, state: str) -> None:
        with self._database.writing() as session:
            lays.set_state(session, running.lay_id, state)
        self._tell(running, "state", {"state": state})

    def _finish(self, running: _Running, state: str, error: dict[str, Any] | None) -> None:
        try:
            with self._database.writing() as session:
                lays.set_state(session, running.lay_id, state, error=error)
                if error is not None:
                    _no_longer_searching(session, running.lay_id)
        except SQLAlchemyError as trouble:
            # The pages are told all the same; after a restart the lay shows as stopped.
            log.error("the end of a search could not be kept", error=repr(trouble))
        with self._lock:
            self._running.pop(running.lay_id, None)
        self._tell(running, "state", {"state": state, "error": error}, last=True)

    def _begin_again(self, lay_id: str, restart: Callable[[str], None]) -> None:
        try:
            restart(lay_id)
        except Exception as error:
            # One lay that cannot be read or laid any more must not keep the service from starting.
            _, shape = describe(error)
            log.warning("a search could not begin again", lay=lay_id, error=repr(error))
            with self._database.writing() as session:
                lays.set_state(session, lay_id, "failed", error=shape.as_json()["error"])

    def _end_at_restart(self, lay_id: str) -> None:
        with self._database.writing() as session:
            lays.set_state(session, lay_id, "stopped")
            _no_longer_searching(session, lay_id)

    def _tell(
        self, running: _Running, name: str, data: dict[str, Any], *, last: bool = False
    ) -> None:
        event = Event(self.next_number(), name, data)
        with self._lock:
            listeners = list(running.listeners)
        for listener in listeners:
            listener.tell(event, last=last)


def _no_longer_searching(session: Any, lay_id: str) -> None:
    for position, result in enumerate(lays.results_of(session, lay_id)):
        lays.keep_result(session, lay_id, position, {**result, "searching": False})
