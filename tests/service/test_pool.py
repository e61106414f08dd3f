"""A lost worker loses one round: the pool is rebuilt, the round asked once more."""

from __future__ import annotations

import ctypes
import os
import signal
import time
from collections.abc import Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from service.errors import BusyError
from service.pool import InProcess, WorkerPool


def square(n: int) -> int:
    return n * n


def refuse(n: int) -> int:
    raise ValueError(f"not {n}")


def die_once(mark: str) -> str:
    """Dies the first time it is asked, as a worker does that runs out of memory."""
    path = Path(mark)
    if not path.exists():
        path.write_text("died")
        os.kill(os.getpid(), signal.SIGKILL)
    return path.read_text()


def die(_: int) -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return 0


def hang(_: int) -> int:
    time.sleep(600)
    return 0


def hold(_: int) -> int:
    """Keeps the interpreter to itself, as a compiled loop does."""
    ctypes.PyDLL(None).sleep(600)
    return 0


class Breaking(ThreadPoolExecutor):
    """Takes one task, which it never begins, and cannot take a second."""

    def __init__(self, workers: int, *, breaks: bool) -> None:
        super().__init__(workers)
        self.left = 1 if breaks else None

    def submit(self, function: Any, /, *arguments: Any, **named: Any) -> Any:
        if self.left is None:
            return super().submit(function, *arguments, **named)
        if self.left == 0:
            raise OSError("handle is closed")
        self.left -= 1
        begun: Future[Any] = Future()
        begun.cancel()
        begun.set_running_or_notify_cancel()
        return begun


@pytest.fixture
def pool() -> Iterator[WorkerPool]:
    made = WorkerPool(2)
    yield made
    made.close()


def test_results_come_in_the_order_of_the_tasks(pool: WorkerPool) -> None:
    assert pool.run(square, [3, 1, 2]) == [9, 1, 4]
    assert InProcess().run(square, [3, 1, 2]) == [9, 1, 4]


def test_what_a_task_raises_is_raised_and_the_pool_lives(pool: WorkerPool) -> None:
    with pytest.raises(ValueError, match="not 2"):
        pool.run(refuse, [2])
    assert pool.run(square, [2]) == [4]


def test_a_dead_worker_costs_one_round(pool: WorkerPool, tmp_path: Path) -> None:
    assert pool.run(die_once, [str(tmp_path / "mark")]) == ["died"]
    assert pool.run(square, [4]) == [16]


def test_a_pool_that_breaks_between_two_tasks_costs_one_round() -> None:
    """A worker that dies just then has the executor close its pipes under the second task's feet."""
    made: list[Breaking] = []

    def make(workers: int) -> Executor:
        made.append(Breaking(workers, breaks=not made))
        return made[-1]

    pool = WorkerPool(2, make=make)
    assert pool.run(square, [3, 1, 2]) == [9, 1, 4]
    assert len(made) == 2
    pool.close()


def test_two_deaths_in_a_row_are_told_and_the_pool_lives(pool: WorkerPool) -> None:
    with pytest.raises(BusyError, match="died twice") as caught:
        pool.run(die, [1])
    assert caught.value.code == "workers_lost"
    assert pool.run(square, [5]) == [25]


def test_a_worker_that_hangs_is_ended_and_the_pool_lives() -> None:
    pool = WorkerPool(2, grace_s=1.0, first_grace_s=1.0)
    try:
        with pytest.raises(BusyError, match="did not answer") as caught:
            pool.run(hang, [1], within_s=0.5)
        assert caught.value.code == "worker_hung"
        assert pool.run(square, [5], within_s=60.0) == [25]
    finally:
        pool.close()


def test_a_compiled_loop_that_never_ends_is_ended_too() -> None:
    pool = WorkerPool(1, grace_s=0.5, first_grace_s=0.5)
    try:
        with pytest.raises(BusyError, match="did not answer"):
            pool.run(hold, [1], within_s=0.5)
    finally:
        pool.close()


def test_tasks_within_their_time_are_left_alone(pool: WorkerPool) -> None:
    assert pool.run(square, [2, 3], within_s=0.001) == [4, 9]


def test_workers_killed_while_idle_are_replaced(pool: WorkerPool) -> None:
    pool.run(square, [1, 2])
    for pid in pool.worker_pids():
        os.kill(pid, signal.SIGKILL)
    time.sleep(0.2)
    assert pool.run(square, [6]) == [36]


def test_a_closed_pool_says_so(pool: WorkerPool) -> None:
    pool.run(square, [1])
    pids = pool.worker_pids()
    pool.close()
    with pytest.raises(BusyError, match="ending"):
        pool.run(square, [1])
    end = time.monotonic() + 10
    while any(_runs(pid) for pid in pids):
        assert time.monotonic() < end
        time.sleep(0.05)


def test_fewer_lanes_than_workers(pool: WorkerPool) -> None:
    assert pool.limited(1).lanes == 1
    assert pool.limited(8).lanes == pool.limited(None).lanes == 2
    assert pool.limited(1).run(square, [7]) == [49]


def _runs(pid: int) -> bool:
    try:
        # A zombie that nobody has waited for yet has no command line any more.
        return bool(Path(f"/proc/{pid}/cmdline").read_bytes())
    except OSError:
        return False
