"""Drawn lines against the true cut line, through a known projector: position, not only size."""

from __future__ import annotations

import json
from collections.abc import Iterator

import numpy as np
import pytest
from playwright.sync_api import Browser, Page

from calibration import homography
from calibration.table_map import TableMap
from service.projection import Projection, project
from tests.browser.table_rig import (
    GOOD_CHECKS,
    KEYSTONES,
    Array,
    Running,
    band_edges,
    lit,
    open_table,
    ready,
    samples,
    waistcoat_cloth,
)

pytestmark = pytest.mark.browser

CLOTH = waistcoat_cloth()


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    service = Running(tmp_path_factory.mktemp("data"))
    yield service
    service.stop()


@pytest.fixture(scope="module")
def lay(running: Running) -> str:
    return running.keep_lay(CLOTH)


def show_window(
    browser: Browser, running: Running, lay: str, *, width_mm: float, **light: str
) -> Page:
    """The first window, approved and lit whole, with lines ``width_mm`` wide."""
    page = open_table(browser)
    walk = {"view": "whole", "window": 0, "stop": 0, "approved": True, "seen": [0]}
    running.keep_walk(lay, walk)
    prefs = json.dumps({"width_mm": width_mm, **light})
    page.add_init_script(f"localStorage.setItem('grainfold.light', {json.dumps(prefs)});")
    page.goto(f"{running.address}table?lay={lay}&cloth=shell")
    ready(page)
    return page


def measured(image: Array, table_map: TableMap, shown: Projection) -> tuple[Array, Array]:
    """Inner edges and widths, px, beside every whole piece of the first window, fold left out."""
    window = shown.windows[0]
    lay_on = np.array(window.table_from_cloth)
    inner, width = [], []
    for piece in shown.pieces:
        if piece.key not in window.whole:
            continue
        line = homography.apply(lay_on, np.array(piece.placement["cut_line"]))
        notches = np.array([n["at"] for n in piece.placement["notches"]]).reshape(-1, 2)
        places, normals = samples(line, avoid=homography.apply(lay_on, notches))
        if piece.fold_line is not None:
            fold = homography.apply(lay_on, [piece.fold_line[0]])[0, 1]
            off_fold = places[:, 1] > fold + 10
            places, normals = places[off_fold], normals[off_fold]
        found = band_edges(image, table_map, places, normals)
        inner.append(found[0])
        width.append(found[1])
    return np.concatenate(inner), np.concatenate(width)


@pytest.mark.parametrize("width_mm", [1, 2, 4])
@pytest.mark.parametrize("name", list(KEYSTONES))
def test_inner_edge_is_the_cut_line(
    browser: Browser, running: Running, lay: str, name: str, width_mm: float
) -> None:
    table_map = KEYSTONES[name]
    running.keep_map(table_map, checks=GOOD_CHECKS)
    shown = project(CLOTH, table_map)
    page = show_window(browser, running, lay, width_mm=width_mm)
    inner, width = measured(lit(page), table_map, shown)
    page.context.close()
    assert len(inner) > 800
    assert np.isfinite(inner).all(), "a line that is not drawn cannot be measured"
    assert np.abs(inner).max() < 0.25
    # A band that leans one way by less than that would pass the bound but shift every piece.
    assert abs(inner.mean()) < 0.05
    assert width.min() > 1.75
    if width_mm == 4:
        assert 3.5 < np.median(width) < 6.5


def test_unlit_line_on_lit_field_has_the_same_edge(
    browser: Browser, running: Running, lay: str
) -> None:
    table_map = KEYSTONES["from the left"]
    running.keep_map(table_map, checks=GOOD_CHECKS)
    shown = project(CLOTH, table_map)
    page = show_window(browser, running, lay, width_mm=2, ground="unlit lines")
    image = 255 - lit(page)
    page.context.close()
    inner, _ = measured(image, table_map, shown)
    assert len(inner) > 800
    assert np.isfinite(inner).all()
    assert np.abs(inner).max() < 0.25


def test_the_measure_sees_a_line_on_the_wrong_side(
    browser: Browser, running: Running, lay: str
) -> None:
    """Half a width is what a line centred on the cut edge would be off by: it must show."""
    table_map = KEYSTONES["from the far side"]
    running.keep_map(table_map, checks=GOOD_CHECKS)
    shown = project(CLOTH, table_map)
    page = show_window(browser, running, lay, width_mm=3)
    image = lit(page)
    page.context.close()
    inner, _ = measured(np.roll(image, 1, axis=1), table_map, shown)
    assert np.nanmax(np.abs(inner)) > 0.8
    nowhere, _ = measured(np.zeros_like(image), table_map, shown)
    assert np.isnan(nowhere).all()
    assert len(nowhere) == len(inner)


def test_high_density_screen_is_drawn_in_its_own_pixels(
    browser: Browser, running: Running, lay: str
) -> None:
    """1280 x 720 css px at a ratio of 1.5 are 1920 x 1080 pixels, and the map is for these."""
    table_map = KEYSTONES["turned and tilted"]
    running.keep_map(table_map, dpr=1.5, screen="1280 x 720", checks=GOOD_CHECKS)
    shown = project(CLOTH, table_map)
    page = open_table(browser, size=(1280, 720), dpr=1.5)
    walk = {"view": "whole", "window": 0, "stop": 0, "approved": True, "seen": [0]}
    running.keep_walk(lay, walk)
    page.goto(f"{running.address}table?lay={lay}&cloth=shell")
    ready(page)
    image = lit(page)
    page.context.close()
    assert image.shape == (1080, 1920, 3)
    inner, _ = measured(image, table_map, shown)
    assert len(inner) > 800
    assert np.abs(inner).max() < 0.25


def test_segments_in_thousands_are_painted_fast(browser: Browser, running: Running) -> None:
    """20,000 segments of cut line in one window: script and painted time are printed; the bound is
    loose because tests share a busy machine (tests/bench measures)."""
    cloth = waistcoat_cloth()
    fine = []
    for placed in cloth["placements"][:2]:
        line = np.array(placed["cut_line"])
        n = 10_000
        at = np.linspace(0, len(line), n, endpoint=False)
        i = at.astype(int)
        t = (at - i)[:, None]
        dense = line[i] * (1 - t) + np.roll(line, -1, axis=0)[i] * t
        fine.append({**placed, "cut_line": dense.tolist(), "on_fold": False})
    cloth["placements"] = fine
    cloth["asked"] = cloth["asked"][:2]
    cloth["zones"] = [{**cloth["zones"][0], "x1": 1260.0}]
    table_map = KEYSTONES["from the left"]
    running.keep_map(table_map, checks=GOOD_CHECKS)
    dense_lay = running.keep_lay(cloth, style="fine lines")
    shown = project(cloth, table_map)
    assert len(shown.windows) == 1
    page = show_window(browser, running, dense_lay, width_mm=2)
    script_ms = float(page.get_attribute("#base", "data-ms") or "nan")
    painted_ms = page.evaluate(
        """async () => {
            const started = performance.now();
            dispatchEvent(new KeyboardEvent("keydown", {key: "+"}));
            await new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)));
            return performance.now() - started;
        }"""
    )
    page.context.close()
    print(f"20,000 segments: script {script_ms:.0f} ms, painted after {painted_ms:.0f} ms")
    assert script_ms < 1000
    assert painted_ms < 2000
