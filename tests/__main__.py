"""``python -m tests``: lint, format, types, contracts, then every test. ``--quick`` leaves out the
browser and the slow ones; any other argument goes to pytest."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")


def main(arguments: list[str]) -> int:
    """Run every check in order; stop at the first that fails and return its exit code."""
    quick = "--quick" in arguments
    rest = [a for a in arguments if a != "--quick"]
    python = sys.executable
    if not quick and not find_browser():
        bring_browser()
    tests = ["-m", "not browser and not slow"] if quick else []
    steps = [
        ("lint", [python, "-m", "ruff", "check", "."]),
        ("format", [python, "-m", "ruff", "format", "--check", "."]),
        ("types", [python, "-m", "mypy"]),
        ("contracts", [str(Path(python).parent / "lint-imports"), "--no-cache"]),
        ("tests", [python, "-m", "pytest", "-n", "2", "--dist", "loadfile", *tests, *rest]),
    ]
    for name, command in steps:
        started = time.monotonic()
        print(
            f"== {name}: {' '.join(command[1:] if command[0] == python else command)}", flush=True
        )
        code = subprocess.run(command, cwd=ROOT, check=False).returncode
        print(f"== {name}: exit {code} after {time.monotonic() - started:.1f} s", flush=True)
        if code:
            return code
    return 0


def find_browser() -> str | None:
    """Path of a Chromium on this machine, or None."""
    return next((p for n in CHROMIUM_NAMES if (p := shutil.which(n))), None)


def bring_browser() -> None:
    """Install Debian's Chromium when we may; otherwise say what to run, and stop."""
    install = "apt-get install -y --no-install-recommends chromium fonts-liberation"
    if shutil.which("apt-get") is None or os.geteuid() != 0:
        print(
            "The browser tests need Chromium. Install it (on Debian or Ubuntu: "
            f"sudo {install}), then run this again.",
            file=sys.stderr,
        )
        raise SystemExit(2)
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in ("apt-get update -qq", install + " -qq"):
        subprocess.run(command.split(), check=True, env=environment, stdout=subprocess.DEVNULL)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
