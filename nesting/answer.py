"""The answer for one cloth: layout, what to buy, and whether it goes into the cloth one owns."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.cloth import Cloth
from nesting.estimate import Estimate, estimate, length_within
from nesting.findings import Finding
from nesting.lacks import clean_length
from nesting.layout import Layout, Placed
from nesting.polygon import signed_area

FIT_SLACK_MM = 1e-3
"""A layout that is longer than the cloth by less than a micrometre fits it: rounding only."""


@dataclass(frozen=True, slots=True)
class Fit:
    """Whether the layout goes into the length of cloth one owns.

    ``slack_mm`` (the clean offcut over the full width) or ``shortage_mm``, the other None, is in length
    of cloth before washing;
    ``impossible`` means proved: even the floor is longer than the cloth. ``blocking_piece`` is the
    largest piece that the best layout found could not keep on the cloth.
    """

    fits: bool
    slack_mm: float | None
    shortage_mm: float | None
    impossible: bool = False
    blocking_piece: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """Everything known about one cloth of a style. ``utilisation`` is the area of all plies' cut
    pieces over length used times usable width."""

    layout: Layout
    estimate: Estimate
    utilisation: float
    fit: Fit | None = None
    findings: tuple[Finding, ...] = ()


def answer_for(
    layout: Layout, *, matched: bool = False, findings: tuple[Finding, ...] = ()
) -> Answer:
    """The answer that a layout gives; ``cloth.available_mm`` asks the question of fit. ``findings``
    tell what the lay cannot do (seams that cannot match)."""
    cloth = layout.cloth
    bought = estimate(layout.length_mm, layout.floor_mm, cloth, matched=matched)
    used = layout.length_mm * cloth.usable_width_mm
    area = sum(_area(p) for p in layout.placed)
    return Answer(
        layout=layout,
        estimate=bought,
        utilisation=area / used if used > 0 else 0.0,
        fit=None if cloth.owned_mm is None else _fit(layout, cloth, cloth.owned_mm),
        findings=findings,
    )


def _area(placed: Placed) -> float:
    # On the fold the half outline counts in both plies, as a doubled pair does.
    return abs(signed_area(placed.cut_line)) * placed.plies


def _fit(layout: Layout, cloth: Cloth, available_mm: float) -> Fit:
    room = length_within(available_mm, cloth)
    # The bolt's start is known here: the cloth lies on the table, so no repeat is added.
    short = (layout.length_mm - room) / (1 - cloth.shrink_along)
    if short <= FIT_SLACK_MM:
        # Beside a missing part or a flaw no strip of the full width is left.
        rest = clean_length(cloth, layout.length_mm, room) / (1 - cloth.shrink_along)
        return Fit(True, rest if cloth.lacks else max(-short, 0.0), None)
    beyond = [p for p in layout.placed if float(p.cut_line[:, 0].max()) > room + FIT_SLACK_MM]
    blocking = max(beyond, key=_area, default=None)
    return Fit(
        fits=False,
        slack_mm=None,
        shortage_mm=short,
        impossible=layout.floor_mm > room + FIT_SLACK_MM,
        blocking_piece=None if blocking is None else blocking.piece,
    )


def fit_text(fit: Fit, *, seconds: float | None = None) -> str:
    """The fit in words; ``seconds`` is how long was searched."""
    if fit.fits:
        rest = f"{(fit.slack_mm or 0) / 10:.1f} cm"
        return f"It fits and leaves {rest} of the full width uncut."
    short = f"{(fit.shortage_mm or 0) / 10:.1f} cm"
    piece = f" {fit.blocking_piece} is in the way." if fit.blocking_piece else ""
    if fit.impossible:
        return f"It cannot fit: no layout is short enough. The best found lacks {short}.{piece}"
    spent = "" if seconds is None else f" in {seconds:.0f} seconds"
    return f"No layout that fits was found{spent}: it lacks {short}.{piece}"
