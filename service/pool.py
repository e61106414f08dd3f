"""Processes that run rounds of search: spawned, healed when one dies, gone when we are gone.

A worker that dies (killed, out of memory) breaks the whole pool for good: so the pool is rebuilt and
the rounds that were lost are asked once more. A second loss is told. A worker that hangs ends itself
when its time and ``GRACE_S`` are over, whatever it is at; such a round is not asked again.
"""

from __future__ import annotations

import faulthandler
import multiprocessing
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import (
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
)
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from multiprocessing.connection import wait as wait_for
from typing import Protocol, TypeVar

from service.errors import BusyError
from service.logs import get_log

Task = TypeVar("Task")
Result = TypeVar("Result")

log = get_log("pool")

GRACE_S = 30.0
"""So much longer than asked may a task take on a crowded machine before its worker is held to hang."""

FIRST_GRACE_S = 300.0
"""The same for a worker's first task, which may have to compile."""


class Runner(Protocol):
    """Runs the same function on several tasks side by side."""

    @property
    def lanes(self) -> int:
        """How many tasks run side by side."""

    def run(
        self,
        function: Callable[[Task], Result],
        tasks: Sequence[Task],
        *,
        within_s: float | None = None,
    ) -> list[Result]:
        """Results in the tasks' order. Raises what a task raised. A task is expected to take
        ``within_s``; where it runs in a process of its own, one that hangs is ended."""


class InProcess:
    """Runs tasks one after the other in this process."""

    lanes = 1

    def run(
        self,
        function: Callable[[Task], Result],
        tasks: Sequence[Task],
        *,
        within_s: float | None = None,
    ) -> list[Result]:
        """Results in the tasks' order; nothing here can end a task that hangs."""
        return [function(task) for task in tasks]


class _Limited:
    """A pool with fewer lanes than it has workers."""

    def __init__(self, pool: WorkerPool, lanes: int) -> None:
        self.lanes = lanes
        self._pool = pool

    def run(
        self,
        function: Callable[[Task], Result],
        tasks: Sequence[Task],
        *,
        within_s: float | None = None,
    ) -> list[Result]:
        """Results in the tasks' order."""
        return self._pool.run(function, tasks, within_s=within_s)


class WorkerPool:
    """Runs tasks on worker processes, made at the first use and healed when one dies."""

    def __init__(
        self,
        workers: int,
        *,
        make: Callable[[int], Executor] | None = None,
        grace_s: float = GRACE_S,
        first_grace_s: float = FIRST_GRACE_S,
    ) -> None:
        self.lanes = workers
        self._make = make or make_executor
        self._grace_s = grace_s
        self._first_grace_s = first_grace_s
        self._lock = threading.Lock()
        self._executor: Executor | None = None
        self._closed = False

    def limited(self, lanes: int | None) -> Runner:
        """This pool for somebody who wants at most so many lanes."""
        return self if lanes is None or lanes >= self.lanes else _Limited(self, lanes)

    def run(
        self,
        function: Callable[[Task], Result],
        tasks: Sequence[Task],
        *,
        within_s: float | None = None,
    ) -> list[Result]:
        """Results in the tasks' order; rounds lost with a worker are asked once more.

        Raises BusyError when workers die twice in a row, when one hung for longer than ``within_s``
        and the grace, or after ``close``.
        """
        results: dict[int, Result] = {}
        watched = function if within_s is None else self._watched(function, within_s)
        for _attempt in range(2):
            executor = self._current()
            asked = time.monotonic()
            futures: dict[int, Future[Result]] = {}
            try:
                for i, task in enumerate(tasks):
                    if i not in results:
                        futures[i] = executor.submit(watched, task)
            except (BrokenExecutor, RuntimeError, OSError):
                # OSError: it is closing its pipes at this very moment, because a worker just died.
                self._heal(executor)
            lost = 0
            for i, future in futures.items():
                try:
                    results[i] = future.result()
                except (BrokenProcessPool, CancelledError):
                    lost += 1
            if len(results) == len(tasks):
                return [results[i] for i in range(len(tasks))]
            if not self._closed:
                log.warning("a worker process died; the pool is rebuilt", rounds_lost=lost)
            self._heal(executor)
            if within_s is not None and time.monotonic() - asked >= within_s + self._grace_s:
                raise BusyError(
                    "a process that searches for layouts did not answer any more and was ended",
                    hint="What was found before is kept. Start the search again; please report the "
                    "pieces it was at if it happens twice.",
                    code="worker_hung",
                )
        raise BusyError(
            "the processes that search for layouts died twice",
            hint="What was found before is kept. Close other programs if memory is short, and "
            "start the search again.",
            code="workers_lost",
        )

    def _watched(
        self, function: Callable[[Task], Result], within_s: float
    ) -> Callable[[Task], Result]:
        graces = (within_s + self._grace_s, within_s + self._first_grace_s)
        return partial(_within, function, *graces)

    def close(self) -> None:
        """End the workers; rounds that run are not waited for."""
        with self._lock:
            self._closed = True
            executor, self._executor = self._executor, None
        if executor is not None:
            _end(executor)

    def worker_pids(self) -> list[int]:
        """Process ids of the present workers."""
        with self._lock:
            return _pids(self._executor) if self._executor is not None else []

    def _current(self) -> Executor:
        with self._lock:
            if self._closed:
                raise BusyError("the service is ending", hint="Start it again.", code="ending")
            if self._executor is None:
                self._executor = self._make(self.lanes)
            return self._executor

    def _heal(self, broken: Executor) -> None:
        with self._lock:
            if self._executor is broken:
                self._executor = None
        _end(broken)


def make_executor(workers: int) -> Executor:
    """Spawned worker processes. Here another kind of executor (a cluster's) can be put in."""
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(workers, mp_context=context, initializer=_begin_worker)


def _begin_worker() -> None:
    """Ctrl+C is the parent's business; and a worker whose parent was killed ends by itself."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        watch = threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True)
        watch.start()


_worked = False
"""Whether this worker has finished a watched task: it has compiled what it needs."""


def _within(
    function: Callable[[Task], Result], limit_s: float, first_limit_s: float, task: Task
) -> Result:
    """Run a task in a worker that ends itself if the task takes longer than its limit.

    The watch is a thread of the C library, so that a compiled loop that never ends is ended too; it
    writes down where that was.
    """
    global _worked
    limit = limit_s if _worked else max(limit_s, first_limit_s)
    faulthandler.dump_traceback_later(limit, exit=True, file=sys.__stderr__ or 2)
    try:
        result = function(task)
    finally:
        faulthandler.cancel_dump_traceback_later()
    _worked = True
    return result


def _end_with(sentinel: int) -> None:
    wait_for([sentinel])
    os._exit(1)


def _end(executor: Executor) -> None:
    pids = _pids(executor)
    executor.shutdown(wait=False, cancel_futures=True)
    for pid in pids:
        try:
            os.kill(pid, signal.SIGTERM)
        except ProcessLookupError:
            continue


def _pids(executor: Executor) -> list[int]:
    return list(getattr(executor, "_processes", None) or {})
