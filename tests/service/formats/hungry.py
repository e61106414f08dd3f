"""Tasks for the guard's tests: they must be importable in a fresh process."""

from __future__ import annotations

import os
import time

from service.errors import FormatError


def double(n: int) -> int:
    return 2 * n


def sleep_long(path: str) -> None:
    with open(path, "w") as out:  # noqa: PTH123
        out.write(str(os.getpid()))
    time.sleep(600)


def eat() -> int:
    return len([bytearray(100_000_000) for _ in range(200)])


def die() -> None:
    os._exit(3)


def fault() -> None:
    raise ZeroDivisionError("a fault in a parser")


def refuse() -> None:
    raise FormatError("no", hint="h", where="w")
