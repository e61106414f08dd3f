"""Cloth as spread: which piece may lie in how many plies, as packing problems for the engine.

Each fold is a row of *bands* across the cloth. What may not be doubled (a single, an odd one of a
hand, a pair wider than the doubled cloth) goes to a one-ply band, or to an open strip laid after
the folded one. Folded cloth lies right sides together: one placement in two plies yields the piece
as drawn and the piece turned over, so in two plies the paper may be turned over freely; in one ply
each hand is an item of its own.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from nesting.allowances.cut_piece import CutPiece
from nesting.allowances.make import unfold_cut
from nesting.cloth import Fold
from nesting.engine.floor import floor
from nesting.engine.problem import Domain, Item, Lattice, Pose, Problem, Side
from nesting.errors import ClothError, LayError
from nesting.lacks import holes_in
from nesting.lay.lay import Lay, check_lay, permitted_turns
from nesting.lay.matching import MATCH_MM, Match, matches, phase_along
from nesting.lay.shapes import Frame, on_grain
from nesting.lay.symmetry import is_own_mirror_image
from nesting.pieces.piece import Hand
from nesting.polygon import FloatArray, as_points, bounds, counter_clockwise
from nesting.tolerance import CONTACT_MM, POINT_MM


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch across the cloth with the same number of plies; its ``fold_edges`` are folds."""

    id: str
    y0: float
    y1: float
    plies: int
    fold_edges: tuple[Side, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """What an engine item stands for: ``cut`` is the half outline if ``on_fold``, else the whole
    one; ``hands`` is what one placement yields; ``base`` turns the piece onto its grain."""

    cut: CutPiece
    base: Frame
    hands: tuple[Hand, ...]
    on_fold: bool
    plies: int


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """One packing problem: ``parts`` run parallel to its items, ``bands`` to every item's domains
    through ``domain_bands`` (per item, per domain: index into bands). ``plies_along`` is 2 where
    the cloth's length counts twice (crosswise fold). ``start`` is where along the cloth it begins, as
    far as its problem depends on that: flaws and missing cloth lie where they lie. ``floor`` then
    holds wherever it begins (None: the floor of its solution does)."""

    id: str
    problem: Problem
    parts: tuple[Part, ...]
    bands: tuple[Band, ...]
    domain_bands: tuple[tuple[int, ...], ...]
    plies_along: int = 1
    start: float = 0.0
    floor: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """A lay as strips laid one after the other along the cloth."""

    lay: Lay
    strips: tuple[Strip, ...]


def spread(lay: Lay) -> Spread:
    """The lay as packing problems. Raises LayError or ClothError naming the piece or the field."""
    check_lay(lay)
    main, open_band = bands_of(lay), _open_band(lay)
    doubled: list[_Asked] = []
    single: list[_Asked] = []
    after: list[_Asked] = []
    for cut in lay.pieces:
        for request in _requests(cut, lay, main):
            if request.part.plies == 2:
                doubled.append(request)
            elif domains_of(request.part, lay, [b for b in main if b.plies == 1]):
                single.append(request)
            elif domains_of(request.part, lay, [open_band]):
                after.append(request)
            else:
                raise _too_wide(cut, lay)
    strips = [
        _strip(lay, "open" if lay.fold is Fold.OPEN else "folded", main, doubled + single),
        _strip(lay, "opened out", (open_band,), after),
    ]
    found = [s for s in strips if s is not None]
    if lay.cloth.lacks:
        # Where the second strip begins is found by the search; what is proved must hold anywhere.
        found[1:] = [replace(s, floor=floor(replace(s.problem, holes=()))) for s in found[1:]]
    return Spread(lay, tuple(found))


def beginning_at(strip: Strip, start: float, lay: Lay) -> Strip:
    """The strip with what the cloth lacks from ``start`` on, counted from there."""
    if strip.start == start or not lay.cloth.lacks:
        return strip
    holes = _holes(lay, strip.bands, start)
    return replace(strip, start=start, problem=replace(strip.problem, holes=holes))


def bands_of(lay: Lay) -> tuple[Band, ...]:
    """The bands across the cloth for the lay's fold, from the frame's y = 0 upwards."""
    usable = lay.cloth.usable_width_mm
    match lay.fold:
        case Fold.OPEN:
            return (_open_band(lay),)
        case Fold.LENGTHWISE:
            return (Band("folded", 0.0, usable / 2, 2, (Side.Y0,)),)
        case Fold.OFF_CENTRE:
            depth = lay.fold_depth_mm
            if depth is None or not 0 < depth < usable / 2:
                raise ClothError(
                    f"an off-centre fold needs a depth above 0 and below {usable / 2:.0f} mm",
                    where="fold_depth",
                )
            return (
                Band("folded", 0.0, depth, 2, (Side.Y0,)),
                Band("single", depth, usable - depth, 1),
            )
        case Fold.DOUBLE:
            middle = usable / 4
            return (
                Band("first fold", 0.0, middle, 2, (Side.Y0,)),
                Band("second fold", middle, usable / 2, 2, (Side.Y1,)),
            )
        case Fold.CROSSWISE:
            return (Band("folded", 0.0, usable, 2, (Side.X0,)),)


def off_centre_depths(lay: Lay) -> tuple[float, ...]:
    """Depths worth trying for an off-centre fold: those at which another doubled piece just fits,
    widest first, mm. Empty when nothing can be doubled."""
    usable = lay.cloth.usable_width_mm
    half = replace(lay, fold=Fold.LENGTHWISE, fold_depth_mm=None)
    depths: set[float] = set()
    for cut in lay.pieces:
        for request in _requests(cut, half, bands_of(half)):
            if request.part.plies == 2:
                depths.update(
                    h for h in _heights(request.part, lay) if POINT_MM < h < usable / 2 - POINT_MM
                )
    return tuple(sorted(depths, reverse=True))


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    part: Part
    count: int


def _requests(cut: CutPiece, lay: Lay, bands: tuple[Band, ...]) -> Iterable[_Asked]:
    """The placements wanted of one piece, doubled as far as the bands allow."""
    drawn, turned = (n * lay.copies for n in (cut.piece.count.drawn, cut.piece.count.turned))
    twofold = [b for b in bands if b.plies == 2]
    if cut.fold is not None:
        part = Part(cut, on_grain(cut), (Hand.DRAWN,), True, 2)
        if domains_of(part, lay, twofold):
            yield _Asked(part, drawn)
            return
        cut = unfold_cut(cut)
    base = on_grain(cut)
    pairs, hands = min(drawn, turned), (Hand.DRAWN, Hand.TURNED)
    if not turned and drawn > 1 and is_own_mirror_image(cut, base, _turns(cut, lay)):
        pairs, hands = drawn // 2, (Hand.DRAWN, Hand.DRAWN)
    part = Part(cut, base, hands, False, 2)
    if pairs and _may_be_doubled(cut, lay) and domains_of(part, lay, twofold):
        yield _Asked(part, pairs)
        drawn -= pairs * hands.count(Hand.DRAWN)
        turned -= pairs * hands.count(Hand.TURNED)
    for hand, count in ((Hand.DRAWN, drawn), (Hand.TURNED, turned)):
        if count:
            yield _Asked(Part(cut, base, (hand,), False, 1), count)


def _may_be_doubled(cut: CutPiece, lay: Lay) -> bool:
    # The upper ply of a crosswise fold is turned end for end: only for pieces that may be.
    return lay.fold is not Fold.CROSSWISE or 180.0 in _turns(cut, lay)


def _turns(cut: CutPiece, lay: Lay) -> tuple[float, ...]:
    return permitted_turns(cut.piece, lay.cloth)


def _poses(part: Part, lay: Lay) -> tuple[Pose, ...]:
    turns = _turns(part.cut, lay)
    if part.plies == 2:
        return tuple(Pose(t, m) for m in (False, True) for t in turns)
    return tuple(Pose(t, part.hands[0] is Hand.TURNED) for t in turns)


def domains_of(part: Part, lay: Lay, bands: list[Band]) -> list[tuple[Domain, Band]]:
    """Every band with the poses in which the part fits across it (and meets its fold)."""
    found = []
    item = Item("", part.base.outline(part.cut.cut_line), _poses(part, lay))
    for band in bands:
        for side in band.fold_edges if part.on_fold else (None,):
            poses = tuple(
                p
                for p in range(len(item.poses))
                if _height(item, p) <= band.y1 - band.y0 + POINT_MM
                and (side is None or _fold_meets(part, item, p, side))
            )
            if poses:
                touch = () if side is None else (side,)
                found.append((Domain(y0=band.y0, y1=band.y1, poses=poses, touch=touch), band))
    return found


def _on_repeat(
    domain: Domain, band: Band, part: Part, match: Match, lay: Lay
) -> list[tuple[Domain, Band]]:
    """The domain once for each turn, on the lattice of places where the piece matches.

    A fold lies on the centre of a bar; open cloth says how far its first bar is from the selvedge.
    """
    cloth = lay.cloth
    poses = _poses(part, lay)
    found = []
    for turn in dict.fromkeys(poses[p].turn_deg for p in domain.poses or ()):
        along = phase_along(match, turn)
        across = match.centred and not domain.touch and cloth.repeat_across_mm > 0
        lattice = Lattice(
            anchor=part.base.point(match.anchor),
            period_x=cloth.repeat_along_mm if along is not None and cloth.repeat_along_mm else None,
            period_y=cloth.repeat_across_mm if across else None,
            phase_x=along or 0.0,
            phase_y=0.0 if band.fold_edges else cloth.bar_from_selvedge_mm,
            tolerance=MATCH_MM / 2,
        )
        these = tuple(p for p in domain.poses or () if poses[p].turn_deg == turn)
        free = lattice.period_x is None and lattice.period_y is None
        found.append((replace(domain, poses=these, lattice=None if free else lattice), band))
    return found


def _height(item: Item, pose: int) -> float:
    _, y0, _, y1 = bounds(item.posed(pose))
    return y1 - y0


def _heights(part: Part, lay: Lay) -> list[float]:
    item = Item("", part.base.outline(part.cut.cut_line), _poses(part, lay))
    return [_height(item, p) for p in range(len(item.poses))]


def _fold_meets(part: Part, item: Item, pose: int, side: Side) -> bool:
    """Whether, in this pose, the piece's fold edge is the outline's extreme on ``side``."""
    assert part.cut.fold is not None
    fold = Item("", part.base.points(part.cut.fold), item.poses).posed(pose)
    box = dict(zip(("x0", "y0", "x1", "y1"), bounds(item.posed(pose)), strict=True))
    across = fold[:, 1] if side in (Side.Y0, Side.Y1) else fold[:, 0]
    return bool(np.all(np.abs(across - box[side.value]) <= CONTACT_MM))


def _strip(lay: Lay, name: str, bands: tuple[Band, ...], requests: list[_Asked]) -> Strip | None:
    if not requests:
        return None
    items, placed_bands = [], []
    tied = matches(lay.pieces) if lay.cloth.matched else {}
    for request in requests:
        part = request.part
        domains = domains_of(part, lay, [b for b in bands if b.plies == part.plies])
        match = tied.get(part.cut.piece.name)
        if match is not None:
            domains = [m for d, b in domains for m in _on_repeat(d, b, part, match, lay)]
        items.append(
            Item(
                key=_key(part),
                outline=part.base.outline(part.cut.cut_line),
                poses=_poses(part, lay),
                count=request.count,
                domains=tuple(d for d, _ in domains),
            )
        )
        placed_bands.append(tuple(bands.index(b) for _, b in domains))
    width = max(b.y1 for b in bands)
    return Strip(
        id=name,
        problem=Problem(width, tuple(items), gap=lay.gap_mm, holes=_holes(lay, bands)),
        parts=tuple(r.part for r in requests),
        bands=bands,
        domain_bands=tuple(placed_bands),
        plies_along=2 if any(Side.X0 in b.fold_edges for b in bands) else 1,
    )


def _holes(lay: Lay, bands: tuple[Band, ...], start: float = 0.0) -> tuple[FloatArray, ...]:
    flaws = tuple(counter_clockwise(as_points(f.outline)) for f in lay.cloth.flaws)
    return flaws + holes_in(lay.cloth, bands, start)


def _key(part: Part) -> str:
    if part.on_fold:
        return f"{part.cut.piece.name} (on the fold)"
    return f"{part.cut.piece.name} ({' and '.join(dict.fromkeys(h.value for h in part.hands))})"


def _open_band(lay: Lay) -> Band:
    return Band("open", 0.0, lay.cloth.usable_width_mm, 1)


def _too_wide(cut: CutPiece, lay: Lay) -> LayError:
    whole = unfold_cut(cut) if cut.fold is not None else cut
    part = Part(whole, on_grain(whole), (Hand.DRAWN,), False, 1)
    least = min(_heights(part, lay))
    return LayError(
        f"{cut.piece.name} is {least:.0f} mm across, but {lay.cloth.role} offers only "
        f"{lay.cloth.usable_width_mm:.0f} mm of usable width",
        where=cut.piece.name,
        hint="Choose a wider cloth, let the piece turn from its grain, or split it with a seam.",
        code="too_wide",
    )
