"""``python -m tests.bench NAME [options]``: each bench is a module here with ``main(argv) -> int``."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path


def names() -> list[str]:
    """The benches there are: modules here that have a ``main``."""
    files = sorted(Path(__file__).parent.glob("[a-z]*.py"))
    return [f.stem for f in files if "\ndef main(" in f.read_text(encoding="utf-8")]


def main(arguments: list[str]) -> int:
    """Run the bench named first with the rest of the arguments."""
    if not arguments or arguments[0] not in names():
        print(f"usage: python -m tests.bench NAME ...  with NAME one of: {', '.join(names())}")
        return 2
    bench = importlib.import_module(f"tests.bench.{arguments[0]}")
    return int(bench.main(arguments[1:]))


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
