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


class SpotKind(StrEnum):
    """Why a spot of the cloth cannot be used: it is marked, or it is not there."""

    FLAW = "flaw"
    MISSING = "missing"


@dataclass(frozen=True, slots=True)
class Spot:
    """A stretch of cloth that no piece may touch, known before anything is laid, as a tape finds it
    on the opened, unwashed cloth lying right side up: along from the raw end, across from the outer
    edge of the near selvedge, mm. ``across_to_mm`` None = to the far selvedge. ``margin_mm`` is kept
    clear all round it."""

    kind: SpotKind
    along_from_mm: float
    along_to_mm: float
    across_from_mm: float = 0.0
    across_to_mm: float | None = None
    margin_mm: float = 0.0
    name: str = ""


MOST_SPOTS = 60


@dataclass(frozen=True, slots=True)
class Cloth:
    """A cloth as bought. ``width_mm`` is what the label says, ``measured_width_mm`` what the tape
    said (used when given). ``shrink_along`` and ``shrink_across`` are shares lost in the first
    wash (ISO 5077 change, sign turned). ``repeat_*_mm`` 0 = plain; ``repeat_even`` says that stripes
    or checks read the same both ways (else every piece lies one way); on open cloth the first bar's
    centre lies ``bar_from_selvedge_mm`` from the inner edge of the selvedge. ``flaws`` lie in the
    frame of the cloth as spread (found at the table), ``spots`` in that of the tape (known before).
    ``available_mm`` is set when the cloth is already owned: its length along the near selvedge, and
    ``far_length_mm`` along the far one where its far end is slanted."""

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
    far_length_mm: float | None = None
    flaws: tuple[Flaw, ...] = ()
    spots: tuple[Spot, ...] = ()
    price_per_m: float | None = None
    currency: str = "€"
    step: ShopStep = ShopStep()

    @property
    def usable_width_mm(self) -> float:
        """Width that pieces may use, of the opened and washed cloth, mm."""
        return self.full_width_mm * (1 - self.shrink_across) - 2 * self.selvedge_mm

    @property
    def full_width_mm(self) -> float:
        """Width of the opened, unwashed cloth from edge to edge: by the tape, else by the label, mm."""
        return self.width_mm if self.measured_width_mm is None else self.measured_width_mm

    @property
    def owned_mm(self) -> float | None:
        """Length of the cloth that is there, along its longer selvedge; None if it is to be bought."""
        if self.available_mm is None:
            return None
        return max(self.available_mm, self.far_length_mm or 0.0)

    @property
    def lacks(self) -> bool:
        """Whether something of the rectangle is missing or flawed, as far as is known beforehand."""
        return bool(self.spots) or (
            self.far_length_mm is not None and self.far_length_mm != self.available_mm
        )

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
    for name in ("width_mm", "measured_width_mm", "available_mm", "far_length_mm"):
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
    _check_remnant(cloth)


def _check_remnant(cloth: Cloth) -> None:
    if cloth.far_length_mm is not None and cloth.available_mm is None:
        raise ClothError(
            "a length along the far selvedge is only asked of cloth that is there",
            where="far_length",
            hint="Give its length along the near selvedge too.",
        )
    if len(cloth.spots) > MOST_SPOTS:
        raise ClothError(f"more than {MOST_SPOTS} flaws and missing parts", where="spots")
    for index, spot in enumerate(cloth.spots):
        _check_spot(cloth, spot, index)


def _check_spot(cloth: Cloth, spot: Spot, index: int) -> None:
    number = 1 + sum(s.kind is spot.kind for s in cloth.spots[:index])
    said = f"the {'flaw' if spot.kind is SpotKind.FLAW else 'missing part'} no. {number}"
    far = cloth.full_width_mm if spot.across_to_mm is None else spot.across_to_mm
    numbers = (spot.along_from_mm, spot.along_to_mm, spot.across_from_mm, far, spot.margin_mm)

    def refuse(message: str, name: str, hint: str = "") -> ClothError:
        return ClothError(f"{said}: {message}", where=f"spots.{index}.{name}", hint=hint)

    if not all(math.isfinite(v) and 0 <= v <= 1e6 for v in numbers):
        raise refuse("its measures must be 0 or more and below 1 km", "along_from")
    if spot.along_to_mm <= spot.along_from_mm:
        raise refuse(
            f"it ends at {spot.along_to_mm:g} mm along, before it begins",
            "along_to",
            "Measure both along the selvedge from the same raw end.",
        )
    if far <= spot.across_from_mm:
        raise refuse(
            f"it ends at {far:g} mm across, before it begins",
            "across_to",
            "Measure both from the outer edge of the near selvedge.",
        )
    if spot.across_to_mm is not None and far > cloth.full_width_mm + 1.0:
        raise refuse(
            f"it reaches {far:g} mm across, but the cloth is {cloth.full_width_mm:g} mm wide",
            "across_to",
            "Measure across the opened cloth, or leave it out: then it goes on to the far selvedge.",
        )
    owned = cloth.owned_mm
    if owned is not None and spot.along_from_mm >= owned:
        raise refuse(
            f"it begins {spot.along_from_mm:g} mm along, beyond the end of the cloth",
            "along_from",
        )


def _said(name: str) -> str:
    return name.removesuffix("_mm").replace("_", " ")
