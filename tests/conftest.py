"""Shared by all tests. Hypothesis repeats the same examples in every run, so that main stays green
for one reason only; ``GRAINFOLD_EXAMPLES=wild`` draws new ones, to look for faults."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("same", derandomize=True, deadline=None)
settings.register_profile("wild", deadline=None, max_examples=2000)
settings.load_profile("wild" if os.environ.get("GRAINFOLD_EXAMPLES") == "wild" else "same")
