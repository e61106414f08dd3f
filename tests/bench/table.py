"""Milliseconds to light 20,000 segments of cut line, and from one page's step to the other's.

``python -m tests.bench table [--json] [--repeats 15]``: a real browser, software rendering, 1920 x 1080,
a strong keystone, everything in one window. *Script* is what the page says of its own drawing of the
sheet, *painted* the time until the sheet's pixels can be read back. *Points* are what was put on the
canvas: fewer than twice the segments, for what bends by less than a twentieth of a pixel is left out.
"""

from __future__ import annotations

import argparse
import json
import platform
import shutil
import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from playwright.sync_api import Browser, Page, sync_playwright

from tests.browser.conftest import CHROMIUM_NAMES, FLAGS
from tests.browser.table_rig import (
    GOOD_CHECKS,
    KEYSTONES,
    Running,
    open_table,
    placement,
    ready,
    waistcoat_cloth,
)

SEGMENTS = 20_000
STEPS = 20

KEYED = """async ([key, sheet]) => {
    await new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)));
    const canvas = document.getElementById(sheet);
    const before = canvas.dataset.drawn;
    const started = performance.now();
    dispatchEvent(new KeyboardEvent("keydown", {key}));
    canvas.getContext("2d").getImageData(0, 0, 1, 1);
    return {painted: performance.now() - started, script: Number(canvas.dataset.ms),
            points: Number(canvas.dataset.points), drawn: canvas.dataset.drawn !== before};
}"""
"""Press a key; when it is drawn and its pixels can be read, say how long that took."""

STEP = """key => {
    const now = performance.timeOrigin + performance.now();
    dispatchEvent(new KeyboardEvent("keydown", {key}));
    return now;
}"""

HEAR = """() => {
    window.heard = [];
    new MutationObserver(() => window.heard.push(performance.timeOrigin + performance.now()))
        .observe(document.getElementById("said"), {childList: true, subtree: true});
}"""


HEARD = """n => new Promise(done => {
    const look = () => window.heard.length > n ? done(window.heard[n]) : setTimeout(look, 1);
    look();
})"""
"""When the words changed for the nth time, on the clock of both pages."""


def main(argv: list[str]) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench table")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.add_argument("--repeats", type=int, default=15)
    options = parser.parse_args(argv)
    result = measure(options.repeats, STEPS)
    print(json.dumps(result, indent=1) if options.json else table(result))
    return 0


def measure(repeats: int, steps: int) -> dict[str, Any]:
    """All cases, in a service and a browser of their own."""
    path = next((p for n in CHROMIUM_NAMES if (p := shutil.which(n))), None)
    with tempfile.TemporaryDirectory() as data, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
        service = Running(Path(data))
        try:
            service.keep_map(KEYSTONES["from the left"], checks=GOOD_CHECKS)
            return {
                "bench": "table",
                "machine": f"{platform.machine()} {platform.system()}",
                "browser": browser.version,
                "repeats": repeats,
                "cases": [
                    lighting(browser, service, name, fine_cloth(pieces), repeats)
                    for name, pieces in (("2 pieces", 2), ("40 pieces", 40))
                ],
                "step_ms": following(browser, service, steps),
            }
        finally:
            browser.close()
            service.stop()


def fine_cloth(pieces: int) -> dict[str, Any]:
    """A layout of ``SEGMENTS`` segments in all: pieces with wavy outlines, side by side in one window."""
    n = SEGMENTS // pieces
    columns = max(1, round((2 * pieces) ** 0.5)) if pieces > 2 else pieces
    rows = -(-pieces // columns)
    width, height = 1200 / columns, 400 / rows
    turn = np.linspace(0, 2 * np.pi, n, endpoint=False)
    placed = []
    for i in range(pieces):
        x, y = (i % columns + 0.5) * width, (i // columns + 0.5) * height
        radius = 0.8 + 0.15 * np.sin((5 + i % 4) * turn)
        line = np.stack(
            [x + radius * 0.5 * width * np.cos(turn), y + radius * 0.5 * height * np.sin(turn)],
            axis=1,
        )
        placed.append(placement(f"Piece {i + 1}", line))
    cloth = waistcoat_cloth()
    return {
        **cloth,
        "zones": [{**cloth["zones"][0], "x1": 1210.0}],
        "placements": placed,
        "asked": [{"piece": p["piece"], "drawn": 1, "turned": 1} for p in placed],
    }


def lighting(
    browser: Browser, service: Running, name: str, cloth: dict[str, Any], repeats: int
) -> dict[str, Any]:
    """All of a window drawn again and again: a wider line and a thinner one in turn."""
    lay = service.keep_lay(cloth, style=name)
    walk = {"view": "whole", "window": 0, "stop": 0, "approved": True, "seen": [0]}
    service.keep_walk(lay, walk)
    page = open_table(browser)
    page.goto(f"{service.address}table?lay={lay}&cloth=shell")
    ready(page)
    first = float(page.get_attribute("#base", "data-ms") or "nan")
    runs = [page.evaluate(KEYED, ["+-"[i % 2], "base"]) for i in range(repeats + 2)][2:]
    page.keyboard.press("Enter")
    single = [page.evaluate(KEYED, ["+-"[i % 2], "front"]) for i in range(repeats)]
    page.context.close()
    assert all(r["drawn"] for r in runs + single)
    return {
        "case": name,
        "segments": sum(len(p["cut_line"]) for p in cloth["placements"]),
        "points": runs[-1]["points"],
        "first_script_ms": first,
        "script_ms": spread([r["script"] for r in runs]),
        "painted_ms": spread([r["painted"] for r in runs]),
        "one_piece_painted_ms": spread([r["painted"] for r in single]),
    }


def following(browser: Browser, service: Running, steps: int) -> dict[str, float]:
    """From a key on one page to the words on another."""
    lay = service.keep_lay(waistcoat_cloth())
    service.keep_walk(
        lay, {"view": "piece", "window": 0, "stop": 0, "approved": True, "seen": [0, 1, 2, 3]}
    )
    pages: list[Page] = []
    for _ in range(2):
        page = open_table(browser)
        page.goto(f"{service.address}table?lay={lay}&cloth=shell")
        ready(page)
        pages.append(page)
    first, second = pages
    second.evaluate(HEAR)
    waits = []
    for i in range(steps):
        count = second.evaluate("window.heard.length")
        pressed = first.evaluate(STEP, ["PageDown", "PageUp"][i % 2])
        waits.append(second.evaluate(HEARD, count) - pressed)
    for page in pages:
        page.context.close()
    return spread(waits)


def spread(values: list[float]) -> dict[str, float]:
    """Median, least and most."""
    return {
        "median": round(statistics.median(values), 1),
        "least": round(min(values), 1),
        "most": round(max(values), 1),
    }


def table(result: dict[str, Any]) -> str:
    """The result for people."""
    rows = [
        f"{'case':>10} {'segments':>9} {'points':>7} {'script ms':>10} {'painted ms':>11} {'to':>6} "
        f"{'one piece':>10}"
    ]
    rows += [
        f"{c['case']:>10} {c['segments']:>9} {c['points']:>7} {c['script_ms']['median']:>10} "
        f"{c['painted_ms']['median']:>11} {c['painted_ms']['most']:>6} "
        f"{c['one_piece_painted_ms']['median']:>10}"
        for c in result["cases"]
    ]
    step = result["step_ms"]
    rows.append(f"step to the other page: {step['median']} ms ({step['least']} to {step['most']})")
    return "\n".join(rows)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
