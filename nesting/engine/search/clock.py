"""Steps and seconds spent of a budget, and the caller's wish to stop."""

from __future__ import annotations

import time
from collections.abc import Callable

from nesting.engine.problem import Budget

Stop = Callable[[], bool]


class Clock:
    """Counts steps (a step is one piece moved or laid) and seconds against a budget."""

    def __init__(self, budget: Budget, stop: Stop | None = None) -> None:
        self.budget = budget
        self.steps = 0
        self._stop = stop
        self._stopped = False
        self._started = time.monotonic()

    def seconds(self) -> float:
        """Wall seconds since the start, less what was excused."""
        return time.monotonic() - self._started

    def excuse(self, seconds: float) -> None:
        """Take ``seconds`` (spent compiling) off the account."""
        self._started += seconds

    def stopped(self) -> bool:
        """Whether the caller wants the search to end."""
        if not self._stopped and self._stop is not None and self._stop():
            self._stopped = True
        return self._stopped

    def spent(self) -> float:
        """Share of the budget used up."""
        if self.budget.steps is not None:
            return self.steps / max(1, self.budget.steps)
        return self.seconds() / max(1e-9, self.budget.seconds or 0.0)

    def over(self) -> bool:
        """Whether to end now."""
        return self.stopped() or self.spent() >= 1.0
