"""Cloth as bought, and how it is doubled. Lengths mm, x along the selvedge, y across.

Decided once (see DEVELOPERS.md, "Cloth geometry"): usable width = measured x (1 - shrink across) -
2 x selvedge, always of the opened cloth.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from nesting.errors import ClothError


class Fold(StrEnum):
    """How cloth is doubled."""

    OPEN = "open"
    LENGTHWISE = "lengthwise"
    OFF_CENTRE = "off-centre"
    DOUBLE = "double"
    CROSSWISE = "crosswise"


@dataclass(frozen=True, slots=True)
class ShopStep:
    """The shop sells by multiples of ``step_mm``, from ``minimum_mm``; ``unit`` (m or yd) is how the
    length is said."""

    step_mm: float = 100.0
    minimum_mm: float = 0.0
    unit: str = "m"


@dataclass(frozen=True, slots=True)
class Flaw:
    """A spot that no piece may touch: a closed outline in the cloth frame, at least three points."""

    outline: tuple[tuple[float, float], ...]
    name: str = ""


@dataclass(frozen=True, slots=True)
class Cloth:
    """A cloth as bought. ``width_mm`` is what the label says, ``measured_width_mm`` what the tape
    said (used when given). ``shrink_along`` and ``shrink_across`` are shares lost in the first
    wash (ISO 5077 change, sign turned). ``repeat_*_mm`` 0 = plain; ``repeat_even`` says that stripes
    or checks read the same both ways (else every piece lies one way); on open cloth the first bar's
    centre lies ``bar_from_selvedge_mm`` from the inner edge of the selvedge. ``flaws`` lie in the
    frame of the cloth as spread. ``available_mm`` is set when the cloth is already owned."""

    role: str = "shell"
    width_mm: float = 1500.0
    measured_width_mm: float | None = None
    selvedge_mm: float = 12.0
    shrink_along: float = 0.0
    shrink_across: float = 0.0
    nap: bool = False
    repeat_along_mm: float = 0.0
    repeat_across_mm: float = 0.0
    repeat_even: bool = False
    bar_from_selvedge_mm: float = 0.0
    end_allowance_mm: float = 20.0
    bolt_start_known: bool = False
    available_mm: float | None = None
    flaws: tuple[Flaw, ...] = ()
    price_per_m: float | None = None
    currency: str = "€"
    step: ShopStep = ShopStep()

    @property
    def usable_width_mm(self) -> float:
        """Width that pieces may use, of the opened and washed cloth, mm."""
        width = self.width_mm if self.measured_width_mm is None else self.measured_width_mm
        return width * (1 - self.shrink_across) - 2 * self.selvedge_mm

    @property
    def matched(self) -> bool:
        """Whether there is a stripe or check to match."""
        return self.repeat_along_mm > 0 or self.repeat_across_mm > 0

    @property
    def one_way(self) -> bool:
        """Whether every piece lies the same way up: nap, or a repeat that is not even."""
        return self.nap or (self.matched and not self.repeat_even)


def check_cloth(cloth: Cloth) -> None:
    """Raise ClothError, naming the field, if the cloth cannot exist."""
    for name in ("width_mm", "measured_width_mm", "available_mm"):
        value = getattr(cloth, name)
        if value is not None and not (math.isfinite(value) and 0 < value <= 1e6):
            raise ClothError(
                f"{_said(name)} must be above 0 and below 1 km, got {value}", where=name
            )
    for name in (
        "selvedge_mm",
        "repeat_along_mm",
        "repeat_across_mm",
        "bar_from_selvedge_mm",
        "end_allowance_mm",
        "price_per_m",
    ):
        value = getattr(cloth, name)
        if value is not None and not (math.isfinite(value) and value >= 0):
            raise ClothError(f"{_said(name)} must be 0 or more, got {value}", where=name)
    for name in ("shrink_along", "shrink_across"):
        value = getattr(cloth, name)
        if not 0 <= value < 0.5:
            raise ClothError(
                f"{_said(name)} must be between 0 and 50 %, got {value:.0%}",
                where=name,
                hint="Measure a test square before and after the wash; write 3 % as 0.03.",
            )
    if not (math.isfinite(cloth.step.step_mm) and cloth.step.step_mm > 0):
        raise ClothError("the shop's step must be above 0", where="step")
    if cloth.usable_width_mm <= 0:
        raise ClothError(
            f"no usable width is left: {cloth.width_mm:g} mm less shrinkage and two selvedges of "
            f"{cloth.selvedge_mm:g} mm",
            where="selvedge_mm",
            hint="Give the width of the opened cloth, not of the folded one.",
        )


def _said(name: str) -> str:
    return name.removesuffix("_mm").replace("_", " ")
