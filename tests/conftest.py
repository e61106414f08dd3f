"""Shared by all tests. Hypothesis repeats the same examples in every run, so that main stays green
for one reason only; ``GRAINFOLD_EXAMPLES=wild`` draws new ones, to look for faults.

Compiled kernels are kept between runs, whatever data directory a test's service has."""

from __future__ import annotations

import os
from pathlib import Path

from hypothesis import settings

# Before the first import of the engine.
os.environ.setdefault("NUMBA_CACHE_DIR", str(Path(__file__).parent.parent / ".numba_cache"))

settings.register_profile("same", derandomize=True, deadline=None)
settings.register_profile("wild", deadline=None, max_examples=2000)
settings.load_profile("wild" if os.environ.get("GRAINFOLD_EXAMPLES") == "wild" else "same")
