"""Looking at a photo in a process of its own, that can be stopped: photos come from strangers' phones.

The size in the photo's header is checked before the process is started; the process has a limit of
time (it is ended) and, where the system offers one, of memory.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import sys
from collections.abc import Callable
from functools import partial
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TypeVar, cast

from calibration.again import OutlineRead, read_outline
from calibration.boards import Board, Image, Pattern
from calibration.corners import Seen, detect, detect_what_is_there
from calibration.errors import CalibrationError, DetectionError
from calibration.photo import check_size, decode, read_header

LIMIT_SECONDS = 30.0
"""A 12-megapixel photo takes about a second; noise may keep OpenCV busy for minutes."""

MEMORY_BYTES = 8_000_000_000
"""Address space the worker may add to what it starts with, where the system can limit it. OpenCV's
threads reserve much that they never touch; the photo's own size is limited before."""


def detect_in_photo(
    data: bytes,
    board: Board | None,
    thrown: Pattern | None,
    *,
    where: str = "photo",
    allow_missing: bool = False,
    limit_seconds: float = LIMIT_SECONDS,
) -> Seen:
    """What a photo (bytes of a JPEG, PNG or WEBP) shows, found in a worker process.

    ``allow_missing`` takes a photo that shows only one of the two (both must be given then). Raises
    PhotoError, DetectionError (code ``detection.time`` when the limit is reached), or whatever
    CalibrationError the worker met. Blocks: call it off the event loop.
    """
    look = partial(_detect, board=board, thrown=thrown, where=where, allow_missing=allow_missing)
    return _in_a_process(data, look, where, limit_seconds)


def outline_in_photo(
    data: bytes,
    board: Board,
    *,
    turn_deg: float,
    where: str = "photo",
    limit_seconds: float = LIMIT_SECONDS,
) -> OutlineRead:
    """How far the lit outline lies from the board in a photo, measured in a worker process likewise."""
    look = partial(read_outline, board=board, turn_deg=turn_deg, where=where)
    return _in_a_process(data, look, where, limit_seconds)


Found = TypeVar("Found")


def _detect(
    image: Image, board: Board | None, thrown: Pattern | None, where: str, allow_missing: bool
) -> Seen:
    if allow_missing and board is not None and thrown is not None:
        return detect_what_is_there(image, board, thrown, where=where)
    return detect(image, board, thrown, where=where)


def _in_a_process(
    data: bytes, look: Callable[[Image], Found], where: str, limit_seconds: float
) -> Found:
    check_size(read_header(data, where=where), bytes_=len(data), where=where)
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    worker = context.Process(target=_work, args=(theirs, data, look, where), daemon=True)
    worker.start()
    theirs.close()
    try:
        answer = _receive(ours, limit_seconds, where)
    finally:
        _end(worker)
        ours.close()
    if isinstance(answer, CalibrationError):
        raise answer
    return cast(Found, answer)


def _receive(ours: Connection, limit_seconds: float, where: str) -> object:
    if not ours.poll(limit_seconds):
        return DetectionError(
            f"Looking for the board took more than {limit_seconds:.0f} seconds and was stopped.",
            code="detection.time",
            where=where,
            hint="Photograph the table alone, without patterned cloth or clutter around it.",
        )
    try:
        answer: object = ours.recv()
    except EOFError:
        return DetectionError(
            "Looking for the board failed: the photo asked for more memory than it may have.",
            code="detection.failed",
            where=where,
            hint="Send a smaller photo (12 megapixels are plenty), as JPEG.",
        )
    return answer


def _end(worker: multiprocessing.process.BaseProcess) -> None:
    worker.join(0.2)
    if worker.is_alive():
        worker.kill()
        worker.join()


def _work(
    theirs: Connection,
    data: bytes,
    look: Callable[[Image], object],
    where: str,
) -> None:
    _limit_memory()
    answer: object
    try:
        answer = look(decode(data, where=where))
    except CalibrationError as refused:
        answer = refused
    theirs.send(answer)
    theirs.close()


def _limit_memory() -> None:
    pages = Path("/proc/self/statm")
    if sys.platform == "win32" or not pages.exists():
        return
    import resource

    now = int(pages.read_text().split()[0]) * resource.getpagesize()
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_AS, (now + MEMORY_BYTES, now + MEMORY_BYTES))
