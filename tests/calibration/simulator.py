"""A table, a projector, boards and a camera, simulated: photos or bare corners, with the truth known.

Its optics are deliberately not the solver's: lenses are given from the seen point to the ideal one
(the solver goes the other way), have a third radial and two tangential terms, and their middle is
off the picture's; boards may wave, lie above the table, and be printed out of scale; cloth may be
patterned; light is uneven. All lengths mm; pixels by the edge convention (pixel i is [i, i + 1)).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import cv2
import numpy as np

from calibration.boards import Board, Image, Pattern, board_corners, pattern, pattern_image
from calibration.corners import Corners, Seen
from calibration.homography import Array
from calibration.table_map import TableMap
from tests.calibration.rigs import canvas_grid, rigid_misfit


@dataclass(frozen=True)
class Optics:
    """Seen -> ideal, r over the focal length: x(1 + a r^2 + b r^4 + c r^6) + tangential."""

    a: float = 0.0
    b: float = 0.0
    c: float = 0.0
    p1: float = 0.0
    p2: float = 0.0

    def ideal(self, seen: Array) -> Array:
        x, y = seen.T
        r2 = x * x + y * y
        g = 1 + r2 * (self.a + r2 * (self.b + r2 * self.c))
        dx = 2 * self.p1 * x * y + self.p2 * (r2 + 2 * x * x)
        dy = self.p1 * (r2 + 2 * y * y) + 2 * self.p2 * x * y
        return np.stack([x * g + dx, y * g + dy], axis=1)

    def seen(self, ideal: Array) -> Array:
        found = ideal.copy()
        for _ in range(30):
            found = found - (self.ideal(found) - ideal)
        return found


@dataclass(frozen=True)
class Device:
    """Camera or projector: where it is, how it looks, its picture and its lens."""

    turn: Array
    place: Array
    focal_px: float
    middle_px: tuple[float, float]
    size_px: tuple[int, int]
    optics: Optics = field(default_factory=Optics)

    def project(self, xyz: Array) -> Array:
        """Pixels (N, 2) of points (N, 3) over the table."""
        eye = (xyz - self.place) @ self.turn.T
        return self.focal_px * self.optics.seen(eye[:, :2] / eye[:, 2:]) + self.middle_px

    def on_table(self, px: Array) -> Array:
        """Places (N, 2) on the table (z = 0) of pixels (N, 2)."""
        flat = self.optics.ideal((px - np.array(self.middle_px)) / self.focal_px)
        ray = np.column_stack([flat, np.ones(len(flat))]) @ self.turn
        return (self.place - ray * (self.place[2] / ray[:, 2])[:, None])[:, :2]


def look_at(
    target: tuple[float, float],
    distance: float,
    tilt_deg: float,
    azimuth_deg: float,
    roll_deg: float,
    focal_px: float,
    size_px: tuple[int, int],
    *,
    middle_off: tuple[float, float] = (0, 0),
    optics: Optics | None = None,
) -> Device:
    """A device ``distance`` from ``target``, ``tilt_deg`` from the vertical, toward ``azimuth_deg``
    (from +y, where -y is the near side of the table). ``middle_off`` is in shares of the size."""
    t, z = np.radians(tilt_deg), np.radians(azimuth_deg)
    ahead = np.array([np.sin(t) * np.sin(z), np.sin(t) * np.cos(z), -np.cos(t)])
    level = np.array([np.cos(z), -np.sin(z), 0])
    down = np.cross(ahead, level)
    c, s = np.cos(np.radians(roll_deg)), np.sin(np.radians(roll_deg))
    turn = np.stack([c * level + s * down, -s * level + c * down, ahead])
    place = np.array([*target, 0.0]) - distance * ahead
    w, h = size_px
    middle = (w * (0.5 + middle_off[0]), h * (0.5 + middle_off[1]))
    return Device(turn, place, focal_px, middle, size_px, optics or Optics())


@dataclass(frozen=True)
class Placement:
    """A printed board on the table: as it truly is (``board``), where, and how flat.

    ``turn_deg`` and ``at_mm`` place the board's frame; ``lift_mm`` is its height, ``wave_mm`` the
    amplitude of one and a half waves along it and one across. ``paper_mm`` is white beyond the
    checkered area.
    """

    board: Board
    turn_deg: float = 0.0
    at_mm: tuple[float, float] = (0, 0)
    lift_mm: float = 0.0
    wave_mm: float = 0.0
    phase: float = 0.0
    paper_mm: float = 28.0

    def to_table(self, xy: Array) -> Array:
        c, s = np.cos(np.radians(self.turn_deg)), np.sin(np.radians(self.turn_deg))
        return xy @ np.array([[c, s], [-s, c]]) + self.at_mm

    def from_table(self, xy: Array) -> Array:
        c, s = np.cos(np.radians(self.turn_deg)), np.sin(np.radians(self.turn_deg))
        return (xy - np.array(self.at_mm)) @ np.array([[c, -s], [s, c]])

    def height(self, board_xy: Array) -> Array:
        if not self.wave_mm:
            return np.full(len(board_xy), self.lift_mm)
        length = self.board.columns * self.board.square_x_mm
        width = self.board.rows * self.board.square_y_mm
        u, v = board_xy[:, 0] / length, -board_xy[:, 1] / width
        wave = np.sin(3 * np.pi * u + self.phase) * np.cos(2 * np.pi * v + 2 * self.phase)
        return self.lift_mm + self.wave_mm * 0.5 * (1 + wave)

    def solid(self, board_xy: Array) -> Array:
        """Points (N, 3) of board places, with their height."""
        return np.column_stack([self.to_table(board_xy), self.height(board_xy)])

    def reflectance(self, board_xy: Array) -> Array:
        """0.05 dark, 0.85 white, NaN off the sheet."""
        b = self.board
        u, v = board_xy[:, 0] / b.square_x_mm + 1, -board_xy[:, 1] / b.square_y_mm + 1
        checkered = (u >= 0) & (u < b.columns + 1) & (v >= 0) & (v < b.rows + 1)
        # Edges fade over half a mm, as ink does, and so that few samples a pixel suffice.
        along = np.clip((np.abs((u + 0.5) % 1 - 0.5)) * b.square_x_mm / EDGE_MM, 0, 1)
        across = np.clip((np.abs((v + 0.5) % 1 - 0.5)) * b.square_y_mm / EDGE_MM, 0, 1)
        sign = np.where((np.floor(u) + np.floor(v)) % 2 == 0, 1, -1)
        ink = np.where(checkered, 0.5 * (1 + sign * along * across), 0)
        mx, my = self.paper_mm / b.square_x_mm, self.paper_mm / b.square_y_mm
        on = (u >= -mx) & (u < b.columns + 1 + mx) & (v >= -my) & (v < b.rows + 1 + my)
        return np.where(on, 0.85 - 0.8 * ink, np.nan)


EDGE_MM = 0.3
"""Half the width of a printed edge."""

CLOTHS = ("white", "plaid", "gingham", "dark")


def cloth_reflectance(kind: str, xy: Array) -> Array:
    """Reflectance (N,) of the table's cover at places (N, 2)."""
    x, y = xy.T
    if kind == "white":
        return np.full(len(xy), 0.8)
    if kind == "dark":
        return np.full(len(xy), 0.12)
    if kind == "gingham":
        # 24 mm checks: two colours of yarn each way give three tones.
        return np.array([0.15, 0.45, 0.85])[
            (np.floor(x / 24) % 2 + np.floor(y / 24) % 2).astype(int)
        ]
    if kind == "plaid":
        bar = (np.abs(x % 46 - 23) < 8).astype(float) + (np.abs(y % 46 - 23) < 8)
        return np.array([0.8, 0.35, 0.12])[bar.astype(int)]
    raise ValueError(kind)


@dataclass(frozen=True)
class Scene:
    """What stands on and over the table."""

    projector: Device
    camera: Device
    placements: tuple[Placement, ...]
    cloth: str = "white"
    ambient: float = 0.10


def projector(
    tilt_deg: float = 15.0,
    *,
    width_mm: float = 1200.0,
    canvas_px: tuple[int, int] = (1920, 1080),
    kp: float = 0.0,
    optics: Optics | None = None,
    middle_off: tuple[float, float] = (0, 0),
) -> Device:
    """Throw 1.2, picture ``width_mm`` wide; ``kp`` is the usual (ideal -> seen) first radial term."""
    return look_at(
        (0, 0), 1.2 * width_mm / np.cos(np.radians(tilt_deg)), tilt_deg, 0, 0,
        1.2 * canvas_px[0], canvas_px, optics=optics or Optics(a=-kp), middle_off=middle_off,
    )  # fmt: skip


WEBCAM = (1920, 1080, 0.8)
PHONE = (4000, 3000, 0.78)


def camera(
    kind: tuple[int, int, float] = WEBCAM,
    tilt_deg: float = 15.0,
    azimuth_deg: float = 20.0,
    *,
    roll_deg: float | None = None,
    k1: float = -0.1,
    optics: Optics | None = None,
    middle_off: tuple[float, float] = (0.005, -0.004),
    field_mm: float = 1200.0,
) -> Device:
    """A camera that sees the whole lit field with a margin, held level with the table."""
    roll_deg = -azimuth_deg if roll_deg is None else roll_deg
    w, h, share = kind
    focal = share * w
    wide = max(field_mm * 1.18, field_mm * 0.66 * 1.18 * w / h)
    return look_at(
        (0, 0), wide * share / np.cos(np.radians(tilt_deg)), tilt_deg, azimuth_deg, roll_deg,
        focal, (w, h), optics=optics or Optics(a=-k1, b=3 * k1 * k1), middle_off=middle_off,
    )  # fmt: skip


A4 = Board(9, 6, 24.0, 24.0)
A3 = Board(9, 6, 34.0, 34.0)


def centred(board: Board, turn_deg: float = 0.0, at_mm: tuple[float, float] = (0, 0)) -> Placement:
    """The board with its middle at ``at_mm``."""
    middle = board_corners(board).mean(axis=0)
    shift = -Placement(board, turn_deg).to_table(middle[None])[0]
    return Placement(board, turn_deg, (float(at_mm[0] + shift[0]), float(at_mm[1] + shift[1])))


def spread_places(
    board: Board, n: int, *, reach: tuple[float, float] = (380, 190)
) -> list[Placement]:
    """``n`` placements over the field: 1 in the middle, 5 as on a die, 9 three by three."""
    grid = [(0, 0), (-1, -1), (1, 1), (-1, 1), (1, -1), (0, 1), (1, 0), (0, -1), (-1, 0)]
    turns = [3, -8, 12, 170, 95, -20, 185, 7, 60]
    return [
        centred(board, turns[i], (grid[i][0] * reach[0], grid[i][1] * reach[1])) for i in range(n)
    ]


def board_points(scene: Scene, placement: Placement) -> Array:
    """Camera pixels (N, 2) of a board's inner corners."""
    return scene.camera.project(placement.solid(board_corners(placement.board)))


def thrown_points(scene: Scene, thrown: Pattern) -> Array:
    """Camera pixels (M, 2) of the thrown pattern's corners on the bare table."""
    places = scene.projector.on_table(thrown.corner_px)
    return scene.camera.project(np.column_stack([places, np.zeros(len(places))]))


def hidden(scene: Scene, thrown: Pattern) -> np.ndarray:
    """Mask (M,): does a sheet lie under this thrown corner, or within a third of a square of it?"""
    places = scene.projector.on_table(thrown.corner_px)
    covered = np.zeros(len(places), dtype=bool)
    for p in scene.placements:
        covered |= ~np.isnan(replace(p, paper_mm=p.paper_mm + 25).reflectance(p.from_table(places)))
    return covered


def photograph(
    scene: Scene,
    canvas: Image,
    *,
    rng: np.random.Generator,
    samples: int = 2,
    noise: float = 0.006,
    blur_px: float = 0.7,
    exposure: float | None = None,
    quality: int = 92,
) -> bytes:
    """JPEG of the scene lit by ``canvas`` (8-bit, gamma 2.2)."""
    linear = _lit(scene, canvas, samples)
    if blur_px:
        linear = cv2.GaussianBlur(linear, (0, 0), blur_px)
    h, w = linear.shape
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    r2 = ((x / w - 0.5) ** 2 + (y / h - 0.5) ** 2) * 2
    linear = linear * (1 - 0.25 * r2) * (1 + 0.15 * (x / w - 0.5) - 0.1 * (y / h - 0.5))
    gain = 0.85 / float(np.quantile(linear, 0.995)) if exposure is None else exposure
    linear = np.clip(linear * gain + rng.normal(0, noise, linear.shape), 0, 1)
    grey = np.round(255 * linear ** (1 / 2.2)).astype(np.uint8)
    done, data = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, quality])
    assert done
    return data.tobytes()


STRIDE = 8
"""The optics are worked out every so many camera px and interpolated: good to a thousandth of one."""


def _lit(scene: Scene, canvas: Image, samples: int) -> np.ndarray:
    """Linear light (height, width) in the camera, before its own blur and noise."""
    w, h = scene.camera.size_px
    times = 3
    light = cv2.resize((canvas / 255.0).astype(np.float32) ** 2.2, None, fx=times, fy=times,
                       interpolation=cv2.INTER_NEAREST)  # fmt: skip
    light = cv2.GaussianBlur(light, (0, 0), 0.5 * times)
    gx, gy = np.meshgrid(np.arange(-STRIDE, w + 2 * STRIDE, STRIDE),
                         np.arange(-STRIDE, h + 2 * STRIDE, STRIDE))  # fmt: skip
    coarse = np.stack([gx.ravel(), gy.ravel()], axis=1).astype(np.float64)
    places = scene.camera.on_table(coarse)
    lights = scene.projector.project(np.column_stack([places, np.zeros(len(places))]))
    maps = [v.reshape(gx.shape).astype(np.float32) for v in (*places.T, *(times * lights.T - 0.5))]
    offsets = (np.arange(samples) + 0.5) / samples
    total = np.zeros((h, w), dtype=np.float32)
    for oy in offsets:
        for ox in offsets:
            x = np.tile(((np.arange(w) + ox) / STRIDE + 1).astype(np.float32), (h, 1))
            y = np.tile(((np.arange(h) + oy) / STRIDE + 1).astype(np.float32)[:, None], (1, w))
            px, py, lx, ly = (cv2.remap(m, x, y, cv2.INTER_LINEAR) for m in maps)
            lit = cv2.remap(light, lx, ly, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
            total += _tone(scene, px, py) * (scene.ambient + 0.9 * lit)
    return total / samples**2


def _tone(scene: Scene, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Reflectance (height, width) that the camera sees at places x, y on the table."""
    place = np.stack([x.ravel(), y.ravel()], axis=1).astype(np.float64)
    tone = cloth_reflectance(scene.cloth, place)
    eye = scene.camera.place
    for p in scene.placements:
        middle = p.to_table(board_corners(p.board).mean(axis=0)[None])[0]
        reach = p.board.columns * p.board.square_x_mm
        near = np.flatnonzero(np.abs(place - middle).max(axis=1) < reach)
        on, z = place[near], np.zeros(len(near))
        for _ in range(2 if p.wave_mm or p.lift_mm else 0):
            # Where the ray to this place of the table meets the sheet above it.
            on = place[near] + (eye[:2] - place[near]) * (z / eye[2])[:, None]
            z = p.height(p.from_table(on))
        paper = p.reflectance(p.from_table(on))
        there = ~np.isnan(paper)
        tone[near[there]] = paper[there]
    return tone.reshape(x.shape)


def default_pattern() -> tuple[Pattern, Image]:
    """The thrown pattern with its hole, and its picture."""
    thrown = pattern((1920, 1080))
    return thrown, pattern_image(thrown)


def observed(
    scene: Scene,
    thrown: Pattern | None,
    *,
    rng: np.random.Generator,
    noise_px: float = 0.04,
    printed: int | None = 0,
) -> Seen:
    """Corners as a detector of that noise would give them, without making a photo.

    ``printed`` is the placement that shows its board (None: none does).
    """
    w, h = scene.camera.size_px
    board = light = None
    if printed is not None:
        place = scene.placements[printed]
        at = board_points(scene, place)
        at = at + rng.normal(0, noise_px, at.shape)
        board = Corners(at, np.arange(len(at)), 0.7, 30.0, 2.0)
    if thrown is not None:
        at = thrown_points(scene, thrown)
        at = at + rng.normal(0, noise_px, at.shape)
        free = ~hidden(scene, thrown) & (at > 8).all(axis=1) & (at < (w - 8, h - 8)).all(axis=1)
        light = Corners(at[free], thrown.corner_ids[free], 0.7, 60.0, 2.0)
    return Seen((w, h), board, light)


def truth_errors(scene: Scene, found: TableMap, *, n: int = 13) -> Array:
    """Distance (N,) in mm over the lit field between the found map and the true one, after the best
    rigid fit: where it lies matters to nobody, its shape and size do."""
    grid = canvas_grid(found.canvas_px, n)
    return rigid_misfit(found.to_table(grid), scene.projector.on_table(grid))
