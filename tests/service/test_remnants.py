"""Cloth with flaws, missing parts and a slanted end: asked over HTTP and on the command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from shapely import Polygon, box

from nesting.cloth import Cloth, Fold, Spot, SpotKind
from nesting.invariants import violations_of
from service import pipeline, wardrobe
from service.cloth_check import check_cloth
from service.owned import lay_on_owned
from service.pool import InProcess
from service.rounds import Search, Wish
from service.schemas import LayDetail
from tests.service.sheets import APRON, SEVERAL
from tests.service.test_cli import answer, run
from tests.service.test_cutting import APPROVED, Cutting
from tests.service.test_lays import lay_of, wait
from tests.service.test_relaying import overlap
from tests.service.test_styles import add

FLAW = {"along_from": "80 cm", "along_to": "95 cm", "across_from": "20 cm", "across_to": "30 cm"}


def quiet(*_: object) -> None:
    """Nothing."""


def test_pieces_keep_clear_of_a_flaw_and_it_is_sent_to_be_drawn(client: TestClient) -> None:
    flaw = {"along_from": 300, "along_to": 400, "across_from": 212, "across_to": 412, "margin": 10}
    cloths = {"shell": {"width": "150 cm", "fold": "open", "flaws": [{**flaw, "name": "moth"}]}}
    lay = lay_of(client, add(client)["id"], seconds=0, cloths=cloths)
    shell = LayDetail.model_validate(wait(client, lay["id"])).cloths[0]
    (lack,) = shell.lacks
    assert (lack.kind, lack.name, lack.zone) == ("flaw", "moth", "open")
    there = Polygon(lack.outline)
    assert there.bounds == pytest.approx((270, 190, 390, 410))
    assert not any(overlap(Polygon(p.cut_line), there) for p in shell.placements)
    assert (shell.room_mm, shell.far_room_mm) == (None, None)


def test_a_remnant_is_answered_and_its_sheets_are_drawn(client: TestClient) -> None:
    bite = {"along_from": 300, "along_to": "40 cm", "across_to": "20 cm"}
    shell = {"fold": "open", "available": "2 m", "far_length": "1.8 m", "missing": [bite]}
    lay = lay_of(client, add(client, APRON)["id"], seconds=0, cloths={"shell": shell})
    cloth = LayDetail.model_validate(wait(client, lay["id"])).cloths[0]
    assert (cloth.room_mm, cloth.far_room_mm) == (1960, 1760)
    assert {k.kind for k in cloth.lacks} == {"missing"}
    assert cloth.fits
    for kind in ("svg", "pdf", "dxf"):
        assert client.get(f"/api/lays/{lay['id']}/sheet.{kind}").status_code == 200
    text = client.get(f"/api/lays/{lay['id']}/sheet.svg").text
    assert "missing" in text


@pytest.mark.parametrize(
    ("said", "where"),
    [
        ({"flaws": [{"along_from": "80 cm", "along_to": "ten"}]}, "flaws.0.along_to"),
        ({"flaws": [{"along_from": 95, "along_to": 80}]}, "flaws.0.along_to"),
        (
            {"flaws": [FLAW], "missing": [FLAW, {**FLAW, "across_to": "3 m"}]},
            "missing.1.across_to",
        ),
        ({"far_length": "1 m"}, "far_length"),
        ({"available": "1 m", "far_length": 0}, "far_length"),
    ],
)
def test_what_cannot_be_is_refused_by_its_field(
    client: TestClient, said: dict[str, Any], where: str
) -> None:
    style = add(client)
    body = {"style_id": style["id"], "cloths": {"shell": {"fold": "open", **said}}}
    refused = client.post("/api/lays", json=body)
    assert refused.status_code in (400, 422)
    assert refused.json()["error"]["where"] == f"cloths.shell.{where}"
    assert refused.json()["error"]["message"]


def test_the_rest_is_laid_again_clear_of_the_flaws_known_before(client: TestClient) -> None:
    cloths = {"shell": {"width": "150 cm", "fold": "open", "flaws": [FLAW]}}
    lay = wait(client, lay_of(client, add(client, APRON)["id"], seconds=0, cloths=cloths)["id"])
    cutting = Cutting(client, lay["id"])
    assert cutting.walk(APPROVED).status_code == 200
    cutting.mark("cut", "Skirt#1")
    cutting.mark("spoiled", "Skirt#1", hand="drawn")
    body = {"number": cutting.get()["number"], "seconds": 0}
    assert client.post(f"{cutting.url}/relay", json=body).status_code == 200
    from service.store import cuttings

    with client.app.state.database.reading() as session:  # type: ignore[attr-defined]
        now = cuttings.layout_of(session, lay["id"], "shell")
    flaw = box(800 - 20, 200 - 12, 950 - 20, 300 - 12)
    assert [k["kind"] for k in now["lacks"]] == ["flaw"]
    assert not any(overlap(Polygon(p["cut_line"]), flaw) for p in now["placements"])


def search_on(cloth: Cloth, folds: tuple[Fold, ...] | None) -> Search:
    style, _ = wardrobe.style_of(SEVERAL, "patches")
    return Search(pipeline.cut_style(style), [Wish(cloth, folds)], seed=5, runner=InProcess())


@pytest.mark.parametrize("fold", [Fold.LENGTHWISE, Fold.DOUBLE])
def test_a_search_in_two_strips_stays_clear_of_what_lies_where_it_lies(fold: Fold) -> None:
    spots = tuple(
        Spot(SpotKind.FLAW, x, x + 15.0, y, y + 40.0)
        for x, y in ((90.0, 60.0), (260.0, 500.0), (420.0, 300.0), (610.0, 100.0))
    )
    search = search_on(Cloth(width_mm=700, selvedge_mm=0, spots=spots), (fold,))
    search.begin(quiet)
    (one,) = search.cloths[0].tries
    before = one.length_mm
    search.run(quiet, steps=400)
    assert one.answer is not None
    layout = one.answer.layout
    assert list(violations_of(layout, search.cut.halves, search.cut.wholes)) == []
    assert layout.floor_mm <= layout.length_mm <= before + 1e-6


def test_the_best_of_all_folds_is_held_on_cloth_that_is_too_short() -> None:
    cloth = Cloth(width_mm=700, selvedge_mm=0, available_mm=300.0, far_length_mm=240.0)
    search = search_on(cloth, None)
    search.begin(quiet)
    lay_on_owned(search, steps=0)
    held = search.cloths[0].held
    assert held is not None
    counts = {}
    for one in search.cloths[0].tries:
        only = search_on(cloth, (one.spread.lay.fold,))
        only.begin(quiet)
        lay_on_owned(only, steps=0)
        found = only.cloths[0].held
        assert found is not None
        counts[found["fold"]] = sum(len(p["hands"]) for p in found["placements"])
    assert sum(len(p["hands"]) for p in held["placements"]) == max(counts.values())
    assert counts[held["fold"]] == max(counts.values())


def test_a_slanted_end_is_held_against_both_selvedges() -> None:
    layout = {
        "fold": "open",
        "usable_width_mm": 976.0,
        "selvedge_mm": 12.0,
        "end_allowance_mm": 20.0,
        "far_room_mm": 600.0,
        "zones": [{"id": "z", "plies": 1, "y0": 0.0, "y1": 976.0, "fold_edges": []}],
        "placements": [{"zone": "z", "cut_line": [[0, 0], [900, 0], [400, 488], [0, 488]]}],
    }
    found = check_cloth(layout, [950.0, 650.0], [1000.0] * 3)
    # At the near corner, 12 mm from the edge, the line lies at 950 - 300 * 12 / 1000.
    assert found.spare_length_mm == pytest.approx(950 - 3.6 - 40 - 900)
    assert not check_cloth({**layout, "far_room_mm": None}, [950.0, 650.0], [1000.0] * 3).fits


@pytest.fixture
def apron(tmp_path: Path) -> Path:
    file = tmp_path / "apron.json"
    file.write_text(json.dumps(APRON))
    return file


def test_the_command_line_takes_flaws_and_a_slanted_end(
    apron: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options = ("--length", "2m", "--far-length", "190cm", "--flaw", "80-95cm,20-30cm", "--flaw", "1700-1710",
               "--missing", "0cm - 12cm, 0 - 10cm", "--steps", "0", "--json")  # fmt: skip
    assert run("estimate", apron, *options) == 0
    (shell, *_) = answer(capsys)["cloths"]
    boxes = [Polygon(k["outline"]).bounds for k in shell["lacks"]]
    assert boxes[0] == pytest.approx((780, 188, 930, 288))
    assert boxes[1] == pytest.approx((1680, 0, 1690, 1476))
    assert boxes[2] == pytest.approx((0, 0, 100, 88))
    assert [k["kind"] for k in shell["lacks"]] == ["flaw", "flaw", "missing", "missing"]


@pytest.mark.parametrize("text", ["80", "80-95cm,1-2,3-4", "a-b", "80-95furlong"])
def test_a_flaw_that_cannot_be_read_is_refused(
    apron: Path, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    assert run("estimate", apron, "--flaw", text, "--steps", "0") == 1
    assert "flaw" in capsys.readouterr().err
