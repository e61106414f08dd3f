"""Where compiled kernels are kept, so that only the first start compiles."""

from __future__ import annotations

import os
from pathlib import Path

VARIABLE = "NUMBA_CACHE_DIR"


def keep_compiled_in(data_dir: Path) -> None:
    """Keep compiled kernels in the data directory, unless the environment says where.

    Must come before the first import of the engine; worker processes inherit it.
    """
    os.environ.setdefault(VARIABLE, str(data_dir / "kernels"))
