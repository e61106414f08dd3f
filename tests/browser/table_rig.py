"""A table, a projector over it whose true map is known, a running service and a real browser."""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Protocol

import cv2
import numpy as np
import shapely
import uvicorn
from numpy.typing import NDArray
from playwright.sync_api import Browser, Page, Route
from starlette.types import ASGIApp, Receive, Scope, Send

from calibration import homography
from calibration.table_map import Accuracy, Lens, TableMap
from service import cutting, server
from service.app import create_app
from service.cli_serve import EVERYWHERE
from service.cutting import Hub
from service.schemas_cutting import WalkWish
from service.settings import Settings
from service.store import maps
from service.store.database import Database
from service.store.tables import ClothResultRow, LayRow, MapRow, StyleRow

Array = NDArray[np.float64]

CANVAS = (1920, 1080)

NOWHERE = frozenset({"localhost"})
"""What stands for the network where the machine has none."""


def network_name() -> str:
    """This machine's own address in its network, which is not loopback; a name of loopback where
    there is no network at all."""
    return server.network_address() or "localhost"


class Far:
    """The service as seen from another machine, for whoever comes by ``host``. Only for machines
    without a network, where nobody can come from outside."""

    def __init__(self, app: ASGIApp, host: str) -> None:
        self.app, self.host = app, host.encode()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, with the client's address changed."""
        hosts = [v.partition(b":")[0] for k, v in scope.get("headers", ()) if k == b"host"]
        far = {"client": ("192.0.2.7", 40000)} if hosts == [self.host] else {}
        await self.app({**scope, **far}, receive, send)


class Light(Protocol):
    """Where the light truly falls: a table map, or a projector that no table map describes."""

    def to_projector(self, table_mm: Array, /) -> Array:
        """Canvas px (N, 2) of places (N, 2) mm."""
        ...

    def to_table(self, canvas_px: Array, /) -> Array:
        """Places (N, 2) mm of canvas px (N, 2)."""
        ...


class Running:
    """A service on a data directory of its own; ``stop`` and ``start`` keep address and data."""

    def __init__(self, data: Path, *, demo: bool = False, lan: bool = False) -> None:
        self.network = network_name() if lan else None
        allowed = (self.network,) if self.network else ()
        self.settings = Settings(data=data, demo=demo, port=0, warm_up=False, allowed_hosts=allowed)
        self.port = 0
        self.address = ""
        self.start()

    @property
    def lan_address(self) -> str:
        """The address for other machines, as ``serve --lan`` prints it."""
        return f"http://{self.network}:{self.port}/"

    def start(self) -> None:
        """Serve, on the same port as before if there was one."""
        listening = server.bind(EVERYWHERE if self.network else "127.0.0.1", self.port)
        self.port = listening.getsockname()[1]
        self.address = server.address_of(listening)
        app = create_app(self.settings)
        if self.network:
            app.state.lan_address = self.lan_address
        config = uvicorn.Config(
            Far(app, self.network) if self.network in NOWHERE else app,
            log_level="critical",
            access_log=False,
            timeout_graceful_shutdown=1,
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, args=([listening],), daemon=True)
        self._thread.start()
        deadline = time.monotonic() + 30
        while not self._server.started:
            assert time.monotonic() < deadline, "the service did not start"
            time.sleep(0.02)
        self.database: Database = app.state.database
        self.hub: Hub = app.state.hub

    def stop(self) -> None:
        """Stop serving; what is kept stays."""
        self._server.should_exit = True
        self._thread.join(timeout=20)

    def keep_map(
        self,
        table_map: TableMap,
        *,
        dpr: float = 1.0,
        screen: str | None = None,
        checks: Sequence[tuple[str, float, float]] = (),
    ) -> str:
        """Keep a map as if it had been calibrated on this screen; returns its id."""
        w, h = table_map.canvas_px
        stated = table_map.with_accuracy(Accuracy("tape", 0.2, 0.4, 0.6, 0.1, 6))
        data = {
            "map": stated.to_dict(),
            "dpr": dpr,
            "screen": f"{w} x {h}" if screen is None else screen,
            "residuals": [],
            "words": [],
        }
        with self.database.writing() as session:
            row: MapRow = maps.add_map(session, "table", "tape", data)
            for line, nominal, measured in checks:
                maps.add_check(session, row.id, line, nominal_mm=nominal, measured_mm=measured)
            return row.id

    def keep_walk(self, lay: str, walk: dict[str, Any]) -> None:
        """Let the cutting of a lay's shell stand at ``walk``."""
        with self.database.writing() as session:
            now = cutting.show(session, lay, "shell")
            wish = {"number": now.number, "layout": now.layout, "walk": walk}
            cutting.move(session, lay, "shell", WalkWish.model_validate(wish))

    def keep_lay(self, *cloths: dict[str, Any], style: str = "Coachman's waistcoat") -> str:
        """Keep finished layouts of a lay's cloths; returns the lay's id."""
        with self.database.writing() as session:
            owner = StyleRow(name=style, revision=1)
            session.add(owner)
            session.flush()
            lay = LayRow(style_id=owner.id, revision=1, style=style, request={}, state="done")
            session.add(lay)
            session.flush()
            for i, cloth in enumerate(cloths):
                session.add(
                    ClothResultRow(lay_id=lay.id, cloth=cloth["cloth"], position=i, result=cloth)
                )
            return lay.id


GOOD_CHECKS = (
    ("along-600", 600.0, 600.2),
    ("across-600", 600.0, 599.8),
    ("diagonal-600", 600.0, 600.0),
)


WALKS = "**/cutting/walk*"
LOOKS = "/cutting?cloth="


def open_table(
    browser: Browser,
    *,
    size: tuple[int, int] = CANVAS,
    dpr: float = 1.0,
    cautions: bool = True,
    touch: bool = False,
) -> Page:
    """A page of its own, screen and window of ``size`` css px; ``cautions`` = read today."""
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        screen={"width": size[0], "height": size[1]},
        device_scale_factor=dpr,
        has_touch=touch,
    )
    if cautions:
        context.add_init_script(
            "const d = new Date(); localStorage.setItem('grainfold.cautions', "
            "`${d.getFullYear()}-${d.getMonth() + 1}-${d.getDate()}`);"
        )
    page = context.new_page()
    page.set_default_timeout(30_000)
    # Requests can be held or failed from the first on: Chromium turns that on for a page already open
    # only some time after it has said so, and a request in between would slip through.
    page.route("**/no-such-thing", lambda route: route.continue_())
    return page


class Held:
    """Requests to move on, held back on several pages until all have come."""

    def __init__(self, *pages: Page) -> None:
        self.pages = pages
        self.routes: list[Route] = []
        for page in pages:
            page.route(WALKS, lambda route: self.routes.append(route))

    def release(self) -> list[int]:
        """Let them go once every page has sent one, and hold no more; what the service answered,
        sorted: 200 to the first, 409 to every other."""
        deadline = time.monotonic() + 30.0
        while len(self.routes) < len(self.pages):
            assert time.monotonic() < deadline, "a page has not asked to move on"
            for page in self.pages:
                page.wait_for_timeout(20)
        assert len(self.routes) == len(self.pages)
        for page in self.pages:
            page.unroute(WALKS)
        looked: list[str] = []
        for page in self.pages:
            page.on(
                "requestfinished",
                lambda r: looked.append(r.url) if r.method == "GET" and LOOKS in r.url else None,
            )
        for route in self.routes:
            route.continue_()
        answers = [route.request.response() for route in self.routes]
        statuses = sorted(answer.status for answer in answers if answer)
        # Who came too late looks where the table stands; what is pressed before that is void.
        while len(looked) < statuses.count(409):
            assert time.monotonic() < deadline, "a page that came too late has not looked again"
            self.pages[0].wait_for_timeout(20)
        for page in self.pages:
            page.wait_for_timeout(100)
        return statuses


def lit(page: Page) -> Array:
    """What the projector throws: the page's pixels, (h, w, 3) RGB, 0 to 255."""
    page.evaluate("() => new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))")
    raw = np.frombuffer(page.screenshot(), dtype=np.uint8)
    return cv2.cvtColor(cv2.imdecode(raw, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB).astype(np.float64)


def true_map(
    corners: Sequence[tuple[float, float]],
    *,
    canvas: tuple[int, int] = CANVAS,
    k1: float = 0.0,
) -> TableMap:
    """Map whose canvas corners, bottom left first and round to the right, light ``corners``."""
    w, h = canvas
    px = np.array([(0, h), (w, h), (w, 0), (0, 0)], dtype=float)
    lens = Lens(k1, 0.0, (w / 2, h / 2), 0.5 * float(np.hypot(w, h))) if k1 else None
    return TableMap(homography.from_pairs(np.array(corners), px), canvas, lens)


KEYSTONES: dict[str, TableMap] = {
    "from the far side": true_map([(-150, -60), (1420, -20), (1250, 880), (20, 830)]),
    "from the left": true_map([(0, 0), (1500, -220), (1560, 1000), (40, 700)]),
    "turned and tilted": true_map([(-80, 60), (1350, -170), (1560, 720), (60, 960)]),
    "with a lens": true_map([(-60, -30), (1330, 10), (1500, 860), (-180, 800)], k1=-0.02),
}


def samples(
    line: Array, *, every_mm: float = 3.0, clear_mm: float = 10.0, avoid: Array | None = None
) -> tuple[Array, Array]:
    """Places (N, 2) and outward unit normals (N, 2) along a closed counter-clockwise line, keeping
    ``clear_mm`` from every turn of more than 15 degrees and from the points to ``avoid`` (M, 2)."""
    places, normals = [], []
    n = len(line)
    edges = np.roll(line, -1, axis=0) - line
    length = np.hypot(*edges.T)
    way = edges / length[:, None]
    turn = np.degrees(
        np.abs(
            np.arctan2(
                np.roll(way, 1, axis=0)[:, 0] * way[:, 1]
                - np.roll(way, 1, axis=0)[:, 1] * way[:, 0],
                (np.roll(way, 1, axis=0) * way).sum(axis=1),
            )
        )
    )
    sharp = line[turn > 15]
    if avoid is not None:
        sharp = np.concatenate([sharp, avoid])
    for i in range(n):
        for at in np.arange(every_mm / 2, length[i], every_mm):
            p = line[i] + at * way[i]
            if len(sharp) and np.min(np.hypot(*(sharp - p).T)) < clear_mm:
                continue
            places.append(p)
            normals.append((way[i, 1], -way[i, 0]))
    return np.array(places).reshape(-1, 2), np.array(normals).reshape(-1, 2)


def band_edges(
    image: Array, table_map: Light, places: Array, normals: Array, *, reach_px: float = 9.0
) -> tuple[Array, Array]:
    """Inner edge and width of the lit band beside each place, px, (N,) each; NaN where there is none.

    Along the line's normal on the canvas, the band's light over full light is its width and the
    centroid its middle (both hold for anti-aliased pixels, whatever their phase); half a width back
    from the middle is the inner edge, measured from the place outwards. Steps of 1/8 px.
    """
    grey = image.mean(axis=2).astype(np.float32)
    at, square = _canvas_normals(table_map, places, normals)
    # Words stand inside a piece, 4 mm from its line at the nearest: keep them out of the profile.
    t = np.arange(-3, reach_px + 1e-9, 1 / 8)
    points = at[:, None, :] + t[None, :, None] * square[:, None, :]
    # OpenCV has pixel centres at the integer, the canvas at + 0.5.
    profile = cv2.remap(
        grey,
        (points[..., 0] - 0.5).astype(np.float32),
        (points[..., 1] - 0.5).astype(np.float32),
        cv2.INTER_LINEAR,
    ).astype(np.float64)
    light = profile / 255
    width = light.sum(axis=1) / 8
    with np.errstate(invalid="ignore"):
        middle = (light * t).sum(axis=1) / light.sum(axis=1)
    found = width > 0.5
    return np.where(found, middle - width / 2, np.nan), np.where(found, width, np.nan)


def edge_places(image: Array, true: Light, places: Array, normals: Array) -> Array:
    """Where on the table (N, 2), mm, the inner edge of the lit band really falls."""
    inner, _ = band_edges(image, true, places, normals)
    at, square = _canvas_normals(true, places, normals)
    assert np.isfinite(inner).all(), "a line that is not drawn cannot be measured"
    return true.to_table(at + inner[:, None] * square)


def _canvas_normals(table_map: Light, places: Array, normals: Array) -> tuple[Array, Array]:
    """Canvas positions of places and the outward normals of the line there, as it is on the canvas:
    a keystone shears right angles, so the table's normal will not do."""
    at = table_map.to_projector(places)
    tangent = np.stack([-normals[:, 1], normals[:, 0]], axis=1)
    along = table_map.to_projector(places + 0.25 * tangent) - table_map.to_projector(
        places - 0.25 * tangent
    )
    outward = table_map.to_projector(places + 0.5 * normals) - at
    square = np.stack([along[:, 1], -along[:, 0]], axis=1)
    square /= np.hypot(*square.T)[:, None]
    square *= np.sign((square * outward).sum(axis=1))[:, None]
    return at, square


def placement(
    name: str,
    cut_line: Sequence[Sequence[float]] | Array,
    *,
    copy: int = 1,
    zone: str = "folded",
    plies: int = 2,
    on_fold: bool = False,
    hands: Sequence[str] = ("drawn", "turned"),
    grain: Sequence[Sequence[float]] | None = None,
    notches: Sequence[dict[str, Any]] = (),
    marks: Sequence[dict[str, Any]] = (),
    grain_rule: str = "either way",
) -> dict[str, Any]:
    """A placement in its wire form; the net line runs 10 mm inside."""
    line = np.asarray(cut_line, dtype=float)
    inside = shapely.Polygon(line).buffer(-10, join_style="mitre")
    net = np.array(inside.exterior.coords)[:-1]
    x0, y0 = line.min(axis=0)
    x1, y1 = line.max(axis=0)
    middle = (y0 + y1) / 2
    return {
        "piece": name,
        "copy": copy,
        "zone": zone,
        "plies": plies,
        "on_fold": on_fold,
        "hands": list(hands),
        "turned_over": False,
        "turn_deg": 0.0,
        "grain_rule": grain_rule,
        "grain": grain or [[x0 + 0.15 * (x1 - x0), middle], [x1 - 0.15 * (x1 - x0), middle]],
        "cut_line": line.tolist(),
        "net_line": net[:: -1 if inside.exterior.is_ccw is False else 1].tolist(),
        "notches": list(notches),
        "marks": list(marks),
    }


def curve(
    a: Sequence[float], b: Sequence[float], c: Sequence[float], d: Sequence[float], n: int = 24
) -> Array:
    """Points (n, 2) of a cubic from ``a``, without its end."""
    t = np.linspace(0, 1, n, endpoint=False)[:, None]
    p = [np.asarray(q, dtype=float) for q in (a, b, c, d)]
    return (
        (1 - t) ** 3 * p[0] + 3 * (1 - t) ** 2 * t * p[1] + 3 * (1 - t) * t**2 * p[2] + t**3 * p[3]
    )


def waistcoat_cloth(*, fold_zone_mm: float = 1240.0, open_zone_mm: float = 420.0) -> dict[str, Any]:
    """A folded stretch with a back on the fold, fronts and facings, then an opened one."""
    back = np.concatenate(
        [
            [[20.0, 0.0]],
            curve((640, 0), (650, 60), (640, 100), (640, 110), 12),
            curve((640, 110), (610, 150), (590, 180), (600, 205), 12),
            curve((600, 205), (480, 205), (420, 230), (405, 280)),
            curve((405, 280), (200, 270), (100, 275), (20, 290), 12),
            [[20.0, 290.0]],
        ]
    )
    front = np.concatenate(
        [
            [[690.0, 30.0]],
            curve((1000, 20), (1120, 40), (1200, 120), (1225, 175), 16),
            curve((1225, 175), (1215, 200), (1205, 225), (1200, 245), 8),
            curve((1200, 245), (1090, 225), (1020, 250), (1005, 310)),
            curve((1005, 310), (880, 300), (780, 305), (690, 315), 12),
            [[660.0, 250.0]],
        ]
    )
    facing = np.array([[20.0, 320], [620, 320], [640, 380], [560, 400], [20, 400]])
    welt = np.array([[690.0, 345], [860, 345], [860, 400], [690, 400]])
    strap = np.array([[900.0, 345], [1220, 345], [1220, 375], [900, 375]])
    collar = np.concatenate(
        [curve((1270, 200), (1360, 160), (1520, 160), (1620, 200)), [[1620.0, 300], [1270, 300]]]
    )
    tab = np.array([[1300.0, 380], [1500, 380], [1500, 520], [1300, 520]])
    return {
        "cloth": "shell",
        "fold": "lengthwise",
        "nap": False,
        "usable_width_mm": 820.0,
        "selvedge_mm": 12.0,
        "end_allowance_mm": 20.0,
        "length_mm": fold_zone_mm + open_zone_mm,
        "buy_text": "1.70 m",
        "zones": [
            {
                "id": "folded", "x0": 0, "x1": fold_zone_mm, "y0": 0, "y1": 410,
                "plies": 2, "fold_edges": ["y0"],
            },
            {
                "id": "opened", "x0": fold_zone_mm, "x1": fold_zone_mm + open_zone_mm,
                "y0": 0, "y1": 820, "plies": 1, "fold_edges": [],
            },
        ],
        "asked": [
            {"piece": "Back", "drawn": 1, "turned": 0},
            *({"piece": name, "drawn": 1, "turned": 1} for name in ("Front", "Facing", "Welt", "Strap")),
            {"piece": "Collar", "drawn": 1, "turned": 0},
            {"piece": "Tab", "drawn": 0, "turned": 1},
        ],
        "placements": [
            placement(
                "Back", back, on_fold=True, hands=["drawn"],
                notches=[{"at": [405, 280], "tip": [410, 272], "marks": 1}],
            ),
            placement(
                "Front", front, grain_rule="one way",
                notches=[{"at": [880, 302], "tip": [880, 294], "marks": 2}],
                marks=[{"kind": "drill", "points": [[850, 150]], "name": "dart point"}],
            ),
            placement("Facing", facing),
            placement("Welt", welt),
            placement("Strap", strap),
            placement("Collar", collar, zone="opened", plies=1, hands=["drawn"]),
            placement("Tab", tab, zone="opened", plies=1, hands=["turned"]),
        ],
        "steps_text": [],
    }  # fmt: skip


def ready(page: Page) -> None:
    """Wait until the table view has lit something."""
    page.wait_for_selector("#words[data-drawn]", state="attached")


def drawn(page: Page) -> list[int]:
    """How often each sheet was drawn: the rest, the current piece, the words."""
    names = ("base", "front", "words")
    return [int(page.get_attribute(f"#{name}", "data-drawn") or 0) for name in names]


def said(page: Page) -> str:
    """What the strip of words says (as a screen reader hears it)."""
    return page.text_content("#said") or ""
