"""Runs a reader of strangers' files in a process of its own, with a time and a memory limit.

What is bounded by count (``safe_xml``, ``svg_tree``) is bounded here once more by the clock: a slow or
greedy file costs one process, never the service.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import sys
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import Any, Final, TypeVar

from nesting.errors import NestingError
from service.errors import FormatError, ServiceError, TimeUpError

SECONDS: Final = 30.0
"""So long may one file be read; the process's start (about a second) is part of it."""

MEMORY_BYTES: Final = 3_000_000_000
"""Address space of the reading process; the libraries alone map about 1 GB without using it."""

Answer = TypeVar("Answer")


def run_guarded(
    task: Callable[..., Answer],
    *arguments: Any,
    source: str,
    seconds: float = SECONDS,
    memory_bytes: int = MEMORY_BYTES,
) -> Answer:
    """``task(*arguments)`` in a fresh process; it must be a module's function, and picklable all round.

    Raises what the task raises when it is ours (NestingError, ServiceError); TimeUpError when it takes
    longer than ``seconds`` or dies (out of memory); FormatError for anything else that goes wrong in
    it, so that a fault in a parser is never a stack trace for the person.
    """
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(
        target=_work, args=(theirs, memory_bytes, task, arguments), daemon=True, name="reader"
    )
    process.start()
    theirs.close()
    try:
        if not ours.poll(seconds):
            raise TimeUpError(
                f"{source} was not read within {seconds:g} seconds, and reading was stopped",
                where=source,
                hint="Simplify the drawing: take out pictures, patterns, copies and tiny segments.",
            )
        kind, value = ours.recv()
    except EOFError:
        raise TimeUpError(
            f"reading {source} took more memory than a file may take, and was stopped",
            where=source,
            hint="Simplify the drawing: take out pictures, patterns, copies and tiny segments.",
        ) from None
    finally:
        ours.close()
        _end(process)
    if kind == "ours":
        raise value
    if kind == "fault":
        raise FormatError(
            f"{source} could not be read: it holds something that this reader does not understand "
            f"({value})",
            where=source,
            hint="Save the drawing again as plain SVG from the program that made it.",
        )
    answer: Answer = value
    return answer


def _end(process: Any) -> None:
    process.join(timeout=0.5)
    if process.is_alive():
        process.kill()
        process.join()
    process.close()


def _work(
    out: Connection, memory_bytes: int, task: Callable[..., Any], arguments: tuple[Any, ...]
) -> None:
    """In the process: run the task, send ("done" | "ours" | "fault", value)."""
    _limit_memory(memory_bytes)
    try:
        answer: tuple[str, Any] = ("done", task(*arguments))
    except (NestingError, ServiceError) as e:
        answer = ("ours", e)
    except MemoryError:
        # Close without a word: the parent reads that as "out of memory".
        out.close()
        return
    except Exception as e:
        answer = ("fault", type(e).__name__)
    with contextlib.suppress(BrokenPipeError):
        out.send(answer)
    out.close()


def _limit_memory(memory_bytes: int) -> None:
    if sys.platform == "win32":
        return
    import resource

    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    limit = memory_bytes if hard == resource.RLIM_INFINITY else min(memory_bytes, hard)
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_AS, (limit, hard))
