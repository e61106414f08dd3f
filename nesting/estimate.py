"""From a layout's length to what to buy, each term a line that can be read and checked.

Buy = (length used + both ends) / (1 - shrink along), + one repeat if stripes are matched and the
bolt's start is unknown, then up to the shop's step. Dividing by (1 - s) is right where multiplying
by (1 + s) falls short (ISO 5077 defines the change against the length before washing).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from nesting.cloth import Cloth, ShopStep
from nesting.units import show_cloth_length

STEP_SLACK_MM = 1e-3
"""A need may exceed a multiple of the step by this (a micrometre) without gaining a step: rounding
of floating point, never cloth."""


@dataclass(frozen=True, slots=True)
class Term:
    """One line of the estimate: ``mm`` is what this term adds, ``total_mm`` the sum so far."""

    code: str
    label: str
    mm: float
    total_mm: float


@dataclass(frozen=True, slots=True)
class Estimate:
    """What to buy of one cloth. ``need_mm`` is before rounding to the shop's step."""

    length_mm: float
    floor_mm: float
    need_mm: float
    buy_mm: float
    buy_text: str
    terms: tuple[Term, ...]
    price: float | None = None
    currency: str = ""
    floor_buy_mm: float = 0.0


def estimate(length_mm: float, floor_mm: float, cloth: Cloth, *, matched: bool = False) -> Estimate:
    """What to buy of ``cloth`` for a layout of ``length_mm`` whose proved floor is ``floor_mm``.

    ``matched`` says that stripes or checks are matched. Nothing is laid: nothing to buy.
    """
    terms = _terms(length_mm, cloth, matched=matched)
    need = terms[-1].total_mm
    buy = round_up_to_step(need, cloth.step)
    terms.append(
        Term("step", f"up to the shop's step of {_step_text(cloth.step)}", buy - need, buy)
    )
    floor_need = _terms(floor_mm, cloth, matched=matched)[-1].total_mm
    return Estimate(
        length_mm=length_mm,
        floor_mm=floor_mm,
        need_mm=need,
        buy_mm=buy,
        buy_text=show_cloth_length(buy, unit=cloth.step.unit),
        terms=tuple(terms),
        price=None if cloth.price_per_m is None else round(buy / 1000 * cloth.price_per_m, 2),
        currency=cloth.currency,
        floor_buy_mm=round_up_to_step(floor_need, cloth.step),
    )


def round_up_to_step(need_mm: float, step: ShopStep) -> float:
    """The least multiple of the step (and at least the minimum) that covers ``need_mm``.

    Idempotent; an exact multiple gains no step; nothing needed is nothing bought.
    """
    if need_mm <= 0:
        return 0.0
    steps = math.ceil((need_mm - STEP_SLACK_MM) / step.step_mm)
    least = math.ceil((step.minimum_mm - STEP_SLACK_MM) / step.step_mm)
    return max(steps, least, 1) * step.step_mm


def length_within(available_mm: float, cloth: Cloth) -> float:
    """Length between the ends that a bought piece of ``available_mm`` offers after the wash, mm."""
    return max(available_mm * (1 - cloth.shrink_along) - 2 * cloth.end_allowance_mm, 0.0)


def _terms(length_mm: float, cloth: Cloth, *, matched: bool) -> list[Term]:
    terms = [Term("length", "length used by the layout", length_mm, length_mm)]
    if length_mm <= 0:
        return terms

    def add(code: str, label: str, mm: float) -> None:
        terms.append(Term(code, label, mm, terms[-1].total_mm + mm))

    ends = 2 * cloth.end_allowance_mm
    if ends:
        add("ends", f"squaring both ends, {cloth.end_allowance_mm:g} mm each", ends)
    if cloth.shrink_along:
        total = terms[-1].total_mm
        loss = total / (1 - cloth.shrink_along) - total
        add("shrinkage", f"shrinkage along, {cloth.shrink_along * 100:g} %", loss)
    if matched and cloth.repeat_along_mm and not cloth.bolt_start_known:
        add("repeat", "one repeat: where the bolt starts is unknown", cloth.repeat_along_mm)
    return terms


def _step_text(step: ShopStep) -> str:
    if step.unit == "yd":
        return show_cloth_length(step.step_mm, unit="yd")
    return f"{step.step_mm / 10:g} cm"
