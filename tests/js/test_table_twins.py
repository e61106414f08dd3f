"""The browser's table map and crosses are twins of Python's: same figures on the same places."""

from __future__ import annotations

import json
import subprocess
from typing import Any

import numpy as np
import pytest
import shapely

from calibration import homography, tape
from calibration.table_map import Lens, TableMap
from tests.js import node_tools

SCRIPT = """
import { readFileSync } from "node:fs";
const asked = JSON.parse(readFileSync(0, "utf8"));
const { tableMap, traceLine, pxPerMm } = await import(asked.module);
const map = tableMap(asked.map);
console.log(JSON.stringify({
  canvas: asked.table.map(map.toCanvas),
  table: asked.canvas.map(map.toTable),
  scale: asked.table.map((p) => pxPerMm(map, p)),
  reaches: asked.far.map(map.reaches),
  region: map.region,
  trace: traceLine(map, asked.line),
}));
"""


def ask_node(script: str, asked: dict[str, Any]) -> Any:
    done = subprocess.run(
        [node_tools.tool("node"), "--input-type=module", "-e", script],
        input=json.dumps(asked),
        capture_output=True,
        text=True,
        check=False,
        cwd=node_tools.ROOT,
        env=node_tools.environment(),
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def random_map(rng: np.random.Generator, *, lens: bool) -> TableMap:
    """A strong keystone, turned by any angle, with or without a lens."""
    w, h = (int(v) for v in rng.choice([(1280, 800), (1920, 1080), (3840, 2160)]))
    turn = rng.uniform(-np.pi, np.pi)
    square = np.array([(-600.0, -340.0), (600, -340), (600, 340), (-600, 340)])
    corners = square * rng.uniform(0.6, 1.4, (4, 2)) + rng.uniform(-500, 500, 2)
    corners = corners @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    px = np.array([(0, h), (w, h), (w, 0), (0, 0)], dtype=float)
    radial = None
    if lens:
        centre = (w / 2 + rng.uniform(-50, 50), h / 2 + rng.uniform(-50, 50))
        k1, k2 = rng.uniform(-0.05, 0.05), rng.uniform(-0.01, 0.01)
        p1, p2 = rng.uniform(-0.005, 0.005, 2)
        half = 0.5 * float(np.hypot(w, h))
        radial = Lens(float(k1), float(k2), centre, half, float(p1), float(p2))
    return TableMap(homography.from_pairs(corners, px), (w, h), radial)


@pytest.mark.parametrize("lens", [False, True])
@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_map_is_the_same_in_both_languages(seed: int, lens: bool) -> None:
    rng = np.random.default_rng(seed)
    table_map = random_map(rng, lens=lens)
    canvas = rng.uniform(0, 1, (200, 2)) * table_map.canvas_px
    table = table_map.to_table(canvas)
    reach = np.repeat([1500.0, 1e6], 100)[:, None]
    far = table.mean(axis=0) + rng.uniform(-1, 1, (200, 2)) * reach
    data = table_map.to_dict()
    answer = ask_node(
        SCRIPT,
        {
            "module": (node_tools.ROOT / "web/app/table/map.js").as_uri(),
            "map": {
                "projector_from_table": data["projector_from_table"],
                "lens": data["lens"],
                "canvas": data["canvas_px"],
            },
            "table": table.tolist(),
            "canvas": canvas.tolist(),
            "far": far.tolist(),
            "line": table[:2].tolist(),
        },
    )
    assert len(answer["canvas"]) == 200
    assert np.abs(np.array(answer["canvas"]) - table_map.to_projector(table)).max() < 1e-6
    assert np.abs(np.array(answer["canvas"]) - canvas).max() < 1e-6
    assert np.abs(np.array(answer["table"]) - table).max() < 1e-6
    assert np.array(answer["scale"]) == pytest.approx(table_map.px_per_mm(table), rel=1e-9)
    assert answer["reaches"] == table_map.reaches(far).tolist()
    assert 10 < sum(answer["reaches"]) < 200
    # Whatever may be drawn has a place on the canvas, and the whole canvas may be drawn on.
    region = np.array(answer["region"])
    assert table_map.reaches(region).all()
    assert shapely.Polygon(region).contains(shapely.Polygon(table_map.lit_outline()))
    assert shapely.Polygon(region).exterior.is_ccw


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_bent_line_is_drawn_within_a_tenth_of_a_pixel(seed: int) -> None:
    rng = np.random.default_rng(seed)
    table_map = random_map(rng, lens=True)
    w, h = table_map.canvas_px
    ends = table_map.to_table([(0.02 * w, 0.05 * h), (0.97 * w, 0.12 * h)])
    data = table_map.to_dict()
    answer = ask_node(
        SCRIPT,
        {
            "module": (node_tools.ROOT / "web/app/table/map.js").as_uri(),
            "map": {
                "projector_from_table": data["projector_from_table"],
                "lens": data["lens"],
                "canvas": data["canvas_px"],
            },
            "table": [], "canvas": [], "far": [], "line": ends.tolist(),
        },
    )  # fmt: skip
    drawn = shapely.LineString(answer["trace"])
    t = np.linspace(0, 1, 500)[:, None]
    true = table_map.to_projector(ends[0] + t * (ends[1] - ends[0]))
    off = shapely.distance(drawn, shapely.points(true))
    assert off.max() < 0.1
    assert len(answer["trace"]) > 2
    straight = shapely.LineString(table_map.to_projector(ends))
    assert shapely.distance(straight, shapely.points(true)).max() > 0.1


CROSSES = """
import { readFileSync } from "node:fs";
const asked = JSON.parse(readFileSync(0, "utf8"));
const { crossSet, pairsOf, freeRoom } = await import(asked.module);
console.log(JSON.stringify(asked.canvases.flatMap((c) => ["corners", "grid"].map((k) => {
  const set = crossSet(k, c);
  return { ...set, canvas: c, pairs: pairsOf(k), room: freeRoom(set, c) };
}))));
"""


def test_crosses_are_the_same_in_both_languages() -> None:
    canvases = [(1920, 1080), (1280, 800), (3840, 2160), (1366, 768), (1921, 1081)]
    module = (node_tools.ROOT / "web/app/calibrate/crosses.js").as_uri()
    for found in ask_node(CROSSES, {"module": module, "canvases": canvases}):
        make = tape.corner_crosses if found["kind"] == "corners" else tape.grid_crosses
        twin = make(tuple(found["canvas"]))
        assert {c.name: list(c.px) for c in twin.crosses} == found["crosses"]
        assert (twin.origin, twin.along) == (found["origin"], found["along"])
        pairs = [frozenset(p) for p in found["pairs"]]
        assert len(set(pairs)) == len(pairs)
        assert set(pairs) <= {frozenset(p) for p in tape.all_pairs(twin)}
        x, y, w, h = found["room"]
        for px, py in found["crosses"].values():
            assert not (x - 30 < px < x + w + 30 and y - 30 < py < y + h + 30)
        assert w > 300
        assert h > 150
