"""Cut sizes and cloth from *The Workwoman's Guide* (By a Lady; London: Simpkin, Marshall, 1838;
Project Gutenberg 75494), as engine problems. In nails of 2 1/4 in, across x along; straight grain,
half turns free, no quarter turns. ``stated`` is the length the book gives for the cloth."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.engine.problem import Item, Pose, Problem
from nesting.polygon import as_points

NAIL_MM = 2.25 * 25.4
HALF_TURNS = (Pose(0.0), Pose(180.0))


@dataclass(frozen=True, slots=True)
class Draft:
    """Pieces by name: (across, along, how many), nails, with the cloth's width and stated length."""

    name: str
    width: float
    stated: float
    pieces: dict[str, tuple[float, float, int]]

    def problem(self) -> Problem:
        items = [_box(key, *piece) for key, piece in self.pieces.items()]
        return Problem(self.width * NAIL_MM, tuple(items))


def _box(key: str, across: float, along: float, count: int) -> Item:
    w, h = along * NAIL_MM, across * NAIL_MM
    return Item(key, as_points([(0, 0), (w, 0), (w, h), (0, h)]), HALF_TURNS, count)


# Plate 17, scale of shirts: one shirt for 11-14 years, 15-18 years, man's larger.
A1 = Draft("one shirt, 11-14 years", 12, 43.5, {
    "body": (12, 27, 1), "sleeve": (7, 5, 2), "binder": (2, 7, 2), "collar": (3, 6.5, 1),
    "wristband": (2.5, 3, 2), "strap": (1, 3.5, 2), "sleeve gusset": (2.5, 2.5, 2),
    "neck gusset": (1.5, 1.5, 1), "bosom gusset": (0.5, 0.5, 1), "flap gusset": (0.5, 0.5, 4),
})  # fmt: skip
A2 = Draft("one shirt, 15-18 years", 13, 49, {
    "body": (13, 32, 1), "sleeve": (8, 6, 2), "binder": (2.5, 10, 2), "collar": (3, 7, 1),
    "wristband": (2, 3.5, 2), "strap": (1, 4, 2), "sleeve gusset": (3, 3, 2),
    "neck gusset": (2, 2, 1), "bosom gusset": (0.5, 0.5, 1), "flap gusset": (1, 1, 4),
})  # fmt: skip
A3 = Draft("one shirt, man's larger", 14, 56, {
    "body": (14, 36, 1), "sleeve": (8, 8, 2), "binder": (3, 12, 2), "collar": (3, 8, 1),
    "wristband": (2.5, 4, 2), "strap": (1.5, 4, 2), "sleeve gusset": (3, 3, 2),
    "neck gusset": (2, 2, 1), "hip gusset": (1, 1, 2),
})  # fmt: skip
# Plate 17 Fig. 4 and Fig. 8: six shirts cut together, sizes as the lay cuts them.
A5 = Draft("six shirts, 11-14 years", 12, 232, {
    "body": (12, 27, 6), "sleeve": (6, 5, 12), "binder": (2, 7, 12), "collar": (3, 6.5, 6),
    "strap": (1, 3.25, 12), "sleeve gusset": (2, 2, 12), "wristband": (2.5, 3, 12),
    "neck gusset": (1.5, 1.5, 6), "little gusset": (0.5, 0.5, 18),
})  # fmt: skip
A6 = Draft("six shirts, man's small", 13.5, 316, {
    "body": (13.5, 34, 6), "sleeve": (7.5, 7, 12), "binder": (3, 11, 12),
    "sleeve gusset": (3, 3, 12), "collar": (3, 8, 6), "gusset": (1, 1, 8),
    "little gusset": (0.5, 0.5, 16), "wristband": (2.5, 4, 12), "neck gusset": (2, 2, 12),
    "strap": (1.125, 4, 12),
})  # fmt: skip
# Plate 16 Fig. 2-3: boy's pinafore, 8 years.
A7 = Draft("boy's pinafore, 8 years", 15, 26, {
    "breadth": (15, 13, 1), "half breadth": (7.5, 13, 1), "sleeve": (5.5, 5.5, 2),
    "collar": (2, 6, 1), "wristband": (2, 3, 2), "sleeve gusset": (2, 2, 2),
    "neck gusset": (1, 1, 2),
})  # fmt: skip
# Plate 8 Fig. 1-3: woman's night-jacket.
NIGHT_JACKET = {
    "body": (14.0, 24.0, 1), "sleeve": (7.0, 10.0, 2), "collar": (3.5, 8.0, 1),
    "wristband": (3.5, 4.0, 2), "binder": (1.0, 4.5, 2), "sleeve gusset": (3.0, 3.0, 2),
    "neck gusset": (1.5, 1.5, 1),
}  # fmt: skip
A8 = Draft("one night-jacket", 14, 42, NIGHT_JACKET)
A8B = Draft(
    "twelve night-jackets", 14, 504, {k: (w, h, 12 * n) for k, (w, h, n) in NIGHT_JACKET.items()}
)
# Plate 9 Fig. 3-6 and Fig. 1-2: caps by the set, corners before rounding.
A11 = Draft("eight night-caps", 18, 35, {
    "head": (4.5, 14, 8), "crown": (2.5, 3.5, 8), "string": (0.5, 7, 16),
})  # fmt: skip
A12 = Draft("twenty-four day-caps", 24, 67, {
    "crown": (6, 6.5, 24), "puffing": (1, 14, 24), "band": (0.5, 7, 48), "string": (0.5, 7, 48),
})  # fmt: skip
# Plate 10 Fig. 1: woman's flannel gown.
A14 = Draft("woman's flannel gown", 14, 138, {
    "breadth": (14, 28, 4), "sleeve": (8, 10, 2), "collar": (6, 8, 1), "band": (2, 12, 1),
    "wristband": (2, 4, 2), "shoulder strap": (1.5, 4, 2), "neck gusset": (2, 2, 2),
    "sleeve gusset": (3, 3, 2),
})  # fmt: skip

# Plate 6 Fig. 1: gored shift, largest size. The four triangles cut away from the body are its gores.
A10_WIDTH, A10_STATED = 14.0, 50.0


def gored_shift() -> Problem:
    """A10: body of 8 corners, four gores, two sleeves, two gussets."""
    side = [(0.0, 7.0), (11.0, 7.0), (22.0, 4.5), (33.0, 7.0), (44.0, 7.0)]
    body = [(x, -y) for x, y in side] + [(x, y) for x, y in reversed(side)]
    gore = [(0.0, 0.0), (11.0, 0.0), (0.0, 2.5)]
    other = [(0.0, 0.0), (11.0, 0.0), (11.0, 2.5)]
    items = [Item("body", as_points(body) * NAIL_MM, HALF_TURNS)]
    items += [
        Item(k, as_points(g) * NAIL_MM, HALF_TURNS, 2)
        for k, g in (("gore", gore), ("other gore", other))
    ]
    items += [_box("sleeve", 3, 6, 2), _box("gusset", 3, 3, 2)]
    return Problem(A10_WIDTH * NAIL_MM, tuple(items))


ALL = (A1, A2, A3, A5, A6, A7, A8, A8B, A11, A12, A14)
