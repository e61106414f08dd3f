"""Laying the rest again: after a mis-cut, a flaw found late, or a change of mind.

What is cut is gone from the cloth (its outlines are holes), what is chalked and sound stays where it
is (pinned), and only what is missing looks for a new place: doubled again inside the folded part if
both hands are missing and there is room, else singly on open cloth.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from shapely import Polygon

from nesting.allowances.cut_piece import CutPiece
from nesting.cloth import Flaw, Fold
from nesting.cutting.ledger import Ledger, lines
from nesting.engine.problem import Domain, Item, Pose, Problem, Side, Solution
from nesting.lacks import lacks_in, lacks_of_zones
from nesting.lay.build import placed_at
from nesting.lay.lay import Lay, permitted_turns
from nesting.lay.shapes import on_grain
from nesting.lay.spread import Band, Part, Strip, domains_of
from nesting.layout import Asked, Layout, Placed, Zone
from nesting.pieces.piece import Hand
from nesting.polygon import as_points, counter_clockwise

Search = Callable[[Problem], Solution]


@dataclass(frozen=True, slots=True, eq=False)
class Relay:
    """The layout of what is still to be cut. ``kept`` are the keys of cuttings that stay where they
    were, ``moved`` those of the new ones."""

    layout: Layout
    kept: tuple[tuple[str, int], ...]
    moved: tuple[tuple[str, int], ...]


def relay(
    layout: Layout,
    halves: Mapping[str, CutPiece],
    wholes: Mapping[str, CutPiece],
    ledger: Ledger,
    *,
    search: Search,
    flaws: tuple[Flaw, ...] = (),
    keep: bool = True,
    gap_mm: float = 0.0,
) -> Relay:
    """Lay again what the ledger still misses, round what is cut and round new ``flaws``.

    ``search`` finds a solution of a packing problem (the rim gives it a budget). With ``keep``
    False every uncut piece of open cloth may move too. The new layout asks for what is missing and
    is as long as what is cut and still to be cut: shorter than before where a flaw was none after
    all. Its floor is that of the search.
    """
    cloth = replace(layout.cloth, flaws=layout.cloth.flaws + flaws)
    lay = Lay(cloth, layout.fold, tuple(halves.values()), gap_mm=gap_mm)
    kept = [p for p in layout.placed if _stays(p, layout, ledger, flaws, keep=keep)]
    gone = [p for p in layout.placed if (p.piece, p.copy) in ledger.cut]
    missing = _missing(ledger, kept)
    copies = Counter({p.piece: 0 for p in layout.placed})
    for p in layout.placed:
        copies[p.piece] = max(copies[p.piece], p.copy)
    placed = list(kept)
    for zone in layout.zones:
        if zone.plies == 2:
            fresh = _doubled(missing, halves, wholes, lay)
            strip = _strip(lay, zone, fresh, kept, gone, length=zone.x1 - zone.x0)
            placed += _found(strip, search, zone, missing, copies)
    zones = tuple(z for z in layout.zones if z.x1 > z.x0)
    open_zone = next((z for z in zones if z.plies == 1), None) or _opened_out(layout)
    fresh = _singles(missing, wholes, lay)
    strip = _strip(lay, open_zone, fresh, kept, gone, length=None)
    placed += _found(strip, search, open_zone, missing, copies)
    others = tuple(z for z in zones if z is not open_zone)
    ends = [float(p.cut_line[:, 0].max()) for p in placed + gone if p.zone == open_zone.id]
    used = replace(open_zone, x1=max([open_zone.x0, *ends]))
    zones = (*others, *((used,) if used.x1 > used.x0 or not others else ()))
    return Relay(
        replace(
            layout,
            cloth=cloth,
            zones=zones,
            asked=tuple(_asked(ledger)),
            placed=tuple(placed),
            length_mm=_length(layout.fold, zones),
            floor_mm=0.0,
            not_laid=tuple(Asked(p, *n) for p, n in _by_piece(missing).items()),
            lacks=lacks_of_zones(cloth, zones),
        ),
        kept=tuple((p.piece, p.copy) for p in kept),
        moved=tuple((p.piece, p.copy) for p in placed[len(kept) :]),
    )


def _length(fold: Fold, zones: tuple[Zone, ...]) -> float:
    """Cloth that the zones take, mm: both plies of a crosswise fold count."""
    twice = sum(z.x1 - z.x0 for z in zones if fold is Fold.CROSSWISE and z.plies == 2)
    return max(z.x1 for z in zones) + twice


Missing = Counter[tuple[str, Hand]]


def _stays(
    placed: Placed, layout: Layout, ledger: Ledger, flaws: tuple[Flaw, ...], *, keep: bool
) -> bool:
    if (placed.piece, placed.copy) in ledger.cut or (not keep and placed.plies == 1):
        return False
    shape = Polygon(placed.cut_line)
    return not any(shape.intersects(Polygon(f.outline)) for f in flaws)


def _missing(ledger: Ledger, kept: list[Placed]) -> Missing:
    missing: Missing = Counter({(n.piece, n.hand): n.gap for n in lines(ledger) if n.gap > 0})
    missing.subtract((p.piece, h) for p in kept for h in p.hands)
    return +missing


def _doubled(
    missing: Missing, halves: Mapping[str, CutPiece], wholes: Mapping[str, CutPiece], lay: Lay
) -> list[tuple[Part, int]]:
    """Placements in two plies that yield only hands that are missing."""
    fresh = []
    for name in dict.fromkeys(n for n, _ in missing):
        half = halves[name]
        if half.fold is not None:
            part = Part(half, on_grain(half), (Hand.DRAWN,), True, 2)
            fresh.append((part, missing[name, Hand.DRAWN]))
        elif pairs := min(missing[name, Hand.DRAWN], missing[name, Hand.TURNED]):
            whole = wholes[name]
            hands = (Hand.DRAWN, Hand.TURNED)
            fresh.append((Part(whole, on_grain(whole), hands, False, 2), pairs))
    return [(p, n) for p, n in fresh if n and _may_double(p, lay)]


def _may_double(part: Part, lay: Lay) -> bool:
    return lay.fold is not Fold.CROSSWISE or 180.0 in permitted_turns(part.cut.piece, lay.cloth)


def _singles(missing: Missing, wholes: Mapping[str, CutPiece], lay: Lay) -> list[tuple[Part, int]]:
    return [
        (Part(wholes[name], on_grain(wholes[name]), (hand,), False, 1), count)
        for (name, hand), count in missing.items()
        if count
    ]


def _strip(
    lay: Lay,
    zone: Zone,
    fresh: list[tuple[Part, int]],
    kept: list[Placed],
    gone: list[Placed],
    *,
    length: float | None,
) -> Strip:
    band = Band(zone.id, zone.y0, zone.y1, zone.plies, tuple(Side(s) for s in zone.fold_edges))
    items, parts, bands = [], [], []
    for part, count in fresh:
        domains = domains_of(part, lay, [band])
        if domains:
            items.append(_item(part, lay, count, tuple(d for d, _ in domains)))
            parts.append(part)
            bands.append((0,) * len(domains))
    # Pieces that stay and pieces that are gone are alike to the search: nothing may touch them.
    taken = [p.cut_line for p in kept + gone if p.zone == zone.id]
    taken += [as_points(f.outline) for f in lay.cloth.flaws]
    taken += [k.outline for k in lacks_in(lay.cloth, zone, zone.x0)]
    shift = (-zone.x0, 0.0)
    holes = tuple(counter_clockwise(as_points(t + shift)) for t in taken)
    problem = Problem(zone.y1, tuple(items), length=length, holes=holes, gap=lay.gap_mm)
    return Strip(zone.id, problem, tuple(parts), (band,), tuple(bands))


def _item(part: Part, lay: Lay, count: int, domains: tuple[Domain, ...]) -> Item:
    turns = permitted_turns(part.cut.piece, lay.cloth)
    mirrors = (False, True) if part.plies == 2 else (part.hands[0] is Hand.TURNED,)
    poses = tuple(Pose(t, m) for m in mirrors for t in turns)
    return Item(part.cut.piece.name, part.base.outline(part.cut.cut_line), poses, count, domains)


def _found(
    strip: Strip, search: Search, zone: Zone, missing: Missing, copies: Counter[str]
) -> list[Placed]:
    if not strip.problem.items:
        return []
    found = []
    for placement in search(strip.problem).placements:
        part = strip.parts[placement.item]
        name = part.cut.piece.name
        copies[name] += 1
        found.append(placed_at(strip, placement, zone.x0, copies[name]))
        missing.subtract((name, h) for h in part.hands)
    return found


def _opened_out(layout: Layout) -> Zone:
    end = max((z.x1 for z in layout.zones), default=0.0)
    return Zone("opened out", end, end, 0.0, layout.cloth.usable_width_mm, 1)


def _asked(ledger: Ledger) -> list[Asked]:
    gaps: dict[str, list[int]] = {}
    for line in lines(ledger):
        if line.gap > 0:
            gaps.setdefault(line.piece, [0, 0])[line.hand is Hand.TURNED] = line.gap
    return [Asked(piece, *hands) for piece, hands in gaps.items()]


def _by_piece(missing: Missing) -> dict[str, tuple[int, int]]:
    return {
        name: (missing[name, Hand.DRAWN], missing[name, Hand.TURNED])
        for name in dict.fromkeys(n for (n, _), count in missing.items() if count > 0)
    }
