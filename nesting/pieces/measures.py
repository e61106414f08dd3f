"""What a garment's girths should be: body measures and ease at named lines. Values only."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BodyMeasure:
    """What a girth should be: ``line`` is the name of a mark or edge (bust, waist, hip ...), or that
    of the waist with ``below_mm`` down from it along the grain; body measure and ease in mm. Pieces
    of ``cloth`` are summed, facings and linings not; ``leave_out`` names pieces that do not count
    either, ``count_in`` pieces that do, whatever they are."""

    line: str
    body_mm: float
    ease_mm: float
    below_mm: float = 0.0
    cloth: str = "shell"
    leave_out: tuple[str, ...] = ()
    count_in: tuple[str, ...] = ()
