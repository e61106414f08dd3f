"""From what is asked on the wire or the command line to cloths in mm; every refusal names its field."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

from nesting.cloth import Cloth, Fold, ShopStep, Spot, SpotKind, check_cloth
from nesting.errors import ClothError, NestingError
from nesting.pieces.piece import Style
from nesting.units import parse_length, parse_share
from service import pipeline
from service.errors import NotOfferedError, RefusedError
from service.rounds import Wish
from service.schemas import ClothRequest, LayRequest, LengthText, SpotRequest

BEST = "best"

Value = TypeVar("Value")


def wishes_of(request: LayRequest, style: Style) -> list[Wish]:
    """One wish a cloth role of the style, in the style's order.

    Raises RefusedError or ClothError naming the field (``cloths.shell.width``).
    """
    for role in request.cloths:
        if role not in style.cloths:
            raise RefusedError(
                f"{style.name} has no pieces for the cloth “{role}”",
                where=f"cloths.{role}",
                hint=f"Its cloths are: {', '.join(style.cloths)}.",
            )
    gap = in_mm(request.gap_mm, "gap_mm")
    wishes = []
    for role in style.cloths:
        said = request.cloths.get(role, ClothRequest())
        cloth = cloth_of(role, said)
        folds = folds_named(said.fold, where=f"cloths.{role}.fold")
        wishes.append(Wish(cloth, folds, request.copies, gap))
    return wishes


def folds_named(name: str, *, where: str) -> tuple[Fold, ...] | None:
    """The fold of that name as the only one to try, or None for ``best``: all that the cloth allows.

    Raises RefusedError for a word that is no fold, NotOfferedError for one not laid yet.
    """
    offered = [f.value for f in pipeline.OFFERED_FOLDS]
    if name == BEST:
        return None
    if name not in [f.value for f in Fold]:
        raise RefusedError(
            f"“{name}” is not a way to fold cloth", hint=f"Choose {choices(offered)}.", where=where
        )
    if name not in offered:
        raise NotOfferedError(
            f"the fold “{name}” is not offered yet", hint=f"Choose {choices(offered)}.", where=where
        )
    return (Fold(name),)


def choices(offered: list[str]) -> str:
    """The words to choose from, as in a sentence."""
    return f"{', '.join(offered)} or {BEST}"


def cloth_of(role: str, said: ClothRequest) -> Cloth:
    """The cloth that a request describes. Raises ClothError or RefusedError naming the field."""

    def mm(name: str, value: LengthText) -> float:
        return in_mm(value, f"cloths.{role}.{name}")

    def maybe_mm(name: str, value: LengthText | None) -> float | None:
        return None if value is None else mm(name, value)

    cloth = Cloth(
        role=role,
        width_mm=mm("width", said.width),
        measured_width_mm=maybe_mm("measured_width", said.measured_width),
        selvedge_mm=mm("selvedge", said.selvedge),
        shrink_along=share(said.shrink_along, f"cloths.{role}.shrink_along"),
        shrink_across=share(said.shrink_across, f"cloths.{role}.shrink_across"),
        nap=said.nap,
        repeat_along_mm=mm("repeat_along", said.repeat_along),
        repeat_across_mm=mm("repeat_across", said.repeat_across),
        repeat_even=said.repeat_even,
        bar_from_selvedge_mm=mm("bar_from_selvedge", said.bar_from_selvedge),
        end_allowance_mm=mm("end_allowance", said.end_allowance),
        bolt_start_known=said.bolt_start_known,
        available_mm=maybe_mm("available", said.available),
        far_length_mm=maybe_mm("far_length", said.far_length),
        spots=(
            *_spots(SpotKind.FLAW, said.flaws, f"cloths.{role}.flaws"),
            *_spots(SpotKind.MISSING, said.missing, f"cloths.{role}.missing"),
        ),
        price_per_m=said.price_per_m,
        currency=said.currency,
        step=ShopStep(mm("step", said.step), mm("minimum", said.minimum), said.unit),
    )
    try:
        check_cloth(cloth)
    except ClothError as error:
        raise ClothError(
            f"{role}: {error.message}",
            hint=error.hint,
            where=f"cloths.{role}.{_field(error.where, len(said.flaws))}",
            code=error.code,
        ) from error
    return cloth


def _spots(kind: SpotKind, said: Sequence[SpotRequest], where: str) -> Iterator[Spot]:
    for index, spot in enumerate(said):
        at = f"{where}.{index}"
        across = spot.across_to
        yield Spot(
            kind,
            in_mm(spot.along_from, f"{at}.along_from"),
            in_mm(spot.along_to, f"{at}.along_to"),
            in_mm(spot.across_from, f"{at}.across_from"),
            None if across is None else in_mm(across, f"{at}.across_to"),
            in_mm(spot.margin, f"{at}.margin"),
            spot.name,
        )


def _field(where: str, flaws: int) -> str:
    """The field on the wire: ``spots`` are the flaws, then the missing parts."""
    name, *rest = where.removesuffix("_mm").split(".")
    if name != "spots" or not rest:
        return name
    index = int(rest[0])
    listed = f"flaws.{index}" if index < flaws else f"missing.{index - flaws}"
    return ".".join((listed, *rest[1:]))


def in_mm(value: LengthText, where: str, *, unit: str = "mm") -> float:
    """A length in mm, a bare number in ``unit``. Raises RefusedError naming ``where``."""
    return _read(lambda: parse_length(value, unit=unit), where)


def signed_mm(value: LengthText, where: str, *, unit: str = "mm") -> float:
    """A length that may have a minus before it. Raises RefusedError naming ``where``."""
    if not isinstance(value, str):
        return math.copysign(in_mm(abs(value), where, unit=unit), value)
    body = value.strip()
    if body[:1] in ("-", "\N{MINUS SIGN}"):
        return -in_mm(body[1:].strip(), where, unit=unit)
    return in_mm(body, where, unit=unit)


def share(value: LengthText, where: str) -> float:
    """A share between 0 and 1. Raises RefusedError naming ``where``."""
    return _read(lambda: parse_share(value), where)


def _read(read: Callable[[], Value], where: str) -> Value:
    try:
        return read()
    except NestingError as error:
        raise RefusedError(
            f"{_said(where)}: {error.message}",
            hint=error.hint,
            where=where,
            code=error.code,
        ) from error


def _said(where: str) -> str:
    """``cloths.shell.shrink_along`` as people say it: the shell's shrink along."""
    *path, name = where.split(".")
    owner = f"the {path[-1]}'s " if len(path) > 1 else ""
    return owner + name.replace("_mm", "").replace("_", " ")
