"""The body check over HTTP and on the command line: widths of rectangles, added up by hand."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.cli_check import run_check
from service.schemas_changes import BodyCheckAnswer

SKIRT: dict[str, Any] = {
    "format": "grainfold piece sheet",
    "version": 1,
    "unit": "cm",
    "style": "Skirt of the ghost's widow",
    "defaults": {"allowance": {"seam": "trade", "hem": 4}},
    "body": {"measures": [{"line": "waist", "body": 72, "ease": 2}]},
    "pieces": [
        {
            "name": "Front",
            "count": {"on fold": 1},
            "grain": "up",
            "outline": {
                "start": [0, 0],
                "edges": [
                    {"name": "hem", "kind": "hem", "to": [30, 0]},
                    {"name": "side", "to": [20, 60], "partner": "Back/side"},
                    {"name": "waist", "to": [0, 60]},
                    {"name": "centre", "kind": "fold", "to": [0, 0]},
                ],
            },
            "darts": [
                {"name": "dart", "edge": "waist", "first": 9, "second": 11, "point": [10, 50]}
            ],
        },
        {
            "name": "Back",
            "count": {"pair": 1},
            "grain": "up",
            "outline": {
                "start": [0, 0],
                "edges": [
                    {"name": "hem", "kind": "hem", "to": [30, 0]},
                    {"name": "centre", "to": [30, 60]},
                    {"name": "waist", "to": [10, 60]},
                    {"name": "side", "to": [0, 0], "partner": "Front/side"},
                ],
            },
        },
        {
            "name": "Front lining",
            "cloth": "lining",
            "grain": "up",
            "outline": {
                "start": [0, 0],
                "edges": [
                    {"name": "hem", "kind": "hem", "to": [50, 0]},
                    {"name": "side", "to": [50, 60]},
                    {"name": "waist", "to": [0, 60]},
                    {"name": "centre", "to": [0, 0]},
                ],
            },
        },
    ],
}


def checked(client: TestClient, **said: Any) -> dict[str, Any]:
    answer = client.post("/api/body-check", json={"sheet": SKIRT, **said})
    assert answer.status_code == 200, answer.text
    BodyCheckAnswer.model_validate(answer.json())
    body: dict[str, Any] = answer.json()
    return body


def test_the_sheet_s_own_measures_are_checked(client: TestClient) -> None:
    body = checked(client)
    (girth,) = body["girths"]
    # Front 2 x (200 - 20 of dart), back 2 x 200.
    assert girth["total_mm"] == pytest.approx(760)
    assert girth["parts"] == [{"piece": "Front", "mm": 360.0}, {"piece": "Back", "mm": 400.0}]
    assert girth["difference_mm"] == pytest.approx(20)
    assert [f["code"] for f in body["findings"]] == ["girth-off"]
    assert body["lines"][0] in ("hem", "side", "waist", "centre")


def test_what_does_not_count_is_sent_with_why_and_may_be_asked(client: TestClient) -> None:
    body = checked(client)
    assert body["girths"][0]["left_out"] == [
        {"piece": "Front lining", "why": "it is cut from lining"}
    ]
    (girth,) = checked(
        client,
        measures=[
            {
                "line": "waist", "body": 860, "ease": "-1 cm",
                "leave_out": ["Front"], "count_in": ["Front lining"],
            }
        ],
    )["girths"]  # fmt: skip
    assert girth["parts"] == [
        {"piece": "Back", "mm": 400.0},
        {"piece": "Front lining", "mm": 500.0},
    ]
    assert girth["left_out"] == [{"piece": "Front", "why": "as asked"}]
    assert (girth["leave_out"], girth["count_in"]) == (["Front"], ["Front lining"])
    # 900 against 860 less a centimetre of stretch.
    assert girth["difference_mm"] == pytest.approx(50)


def test_the_sheet_keeps_what_is_left_out_and_stretch_below_nothing(client: TestClient) -> None:
    sheet = copy.deepcopy(SKIRT)
    measure = {"line": "waist", "body": 72, "ease": -2, "leave_out": ["Back"]}
    sheet["body"]["measures"] = [measure]
    (girth,) = checked(client, sheet=sheet)["girths"]
    assert (girth["ease_mm"], girth["leave_out"]) == (-20.0, ["Back"])
    asked = {"sheet": sheet, "piece": "Back", "change": {"kind": "mirror"}}
    assert client.post("/api/changes", json=asked).json()["sheet"]["body"] == sheet["body"]
    level = {"kind": "split", "line": [[-10, 300], [400, 300]], "names": ["Low", "High"]}
    cut = client.post("/api/changes", json={**asked, "change": level}).json()["sheet"]
    assert cut["body"]["measures"] == [{**measure, "leave_out": ["Low", "High"]}]
    sheet["body"]["measures"][0]["count_in"] = ["Back"]
    answer = client.post("/api/body-check", json={"sheet": sheet})
    assert answer.status_code == 400
    assert "Back is both left out and counted in" in answer.text


def test_any_level_below_the_waist_and_another_cloth_may_be_asked(client: TestClient) -> None:
    body = checked(
        client,
        measures=[
            {"line": "waist", "below": 300, "body": "1000 mm"},
            {"line": "waist", "body": 500, "cloth": "lining"},
        ],
    )
    # Half way down each half is 250 wide.
    assert [g["total_mm"] for g in body["girths"]] == pytest.approx([1000, 500])
    assert body["girths"][0]["said"] == "level 300 mm below the waist"
    assert body["findings"] == []


def test_what_cannot_be_measured_is_refused_by_name(client: TestClient) -> None:
    for measure, where in (
        ({"line": "hip", "body": 900}, "hip"),
        ({"line": "waist", "body": "wide"}, "measures.0.body"),
    ):
        answer = client.post("/api/body-check", json={"sheet": SKIRT, "measures": [measure]})
        assert answer.status_code == 422
        assert answer.json()["error"]["where"] == where


def run(tmp_path: Path, capsys: pytest.CaptureFixture[str], sheet: dict[str, Any]) -> Any:
    file = tmp_path / "skirt.json"
    file.write_text(json.dumps(sheet), encoding="utf-8")
    code = run_check([file], as_json=True, unit=None)
    return code, json.loads(capsys.readouterr().out)


def test_check_walks_the_seams_and_measures_the_girths(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, told = run(tmp_path, capsys, SKIRT)
    assert code == 0
    assert [s["first"] for s in told["seams"]] == ["Front/side"]
    assert [g["said"] for g in told["girths"]] == ["waist"]
    assert {"girth-off", "joined-edge-turns"} <= {f["code"] for f in told["findings"]}


def test_check_prints_which_pieces_count(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "skirt.json"
    file.write_text(json.dumps(SKIRT), encoding="utf-8")
    assert run_check([file], as_json=False, unit=None) == 0
    out = capsys.readouterr().out
    assert "  waist: 760 mm for 720 mm and 20 mm of ease\n" in out
    assert "    counted: Front 360 mm, Back 400 mm\n" in out
    assert "    not counted: Front lining (it is cut from lining)\n" in out


def test_check_tells_a_line_that_no_piece_has_and_goes_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = copy.deepcopy(SKIRT)
    sheet["body"]["measures"][0]["line"] = "hip"
    code, told = run(tmp_path, capsys, sheet)
    assert code == 0
    assert "line-unknown" in [f["code"] for f in told["findings"]]


def test_a_piece_that_cannot_be_cut_is_not_walked_and_its_partner_not_called_missing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = copy.deepcopy(SKIRT)
    sheet["pieces"][1]["outline"]["edges"][0]["to"] = [30, 70]
    sheet["pieces"][1]["outline"]["edges"][1]["to"] = [30, 10]
    code, told = run(tmp_path, capsys, sheet)
    assert code == 1
    assert told["seams"] == []
    assert "partner-unknown" not in [f["code"] for f in told["findings"]]


def test_check_walks_a_row_of_edges(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = copy.deepcopy(SKIRT)
    band = {
        "name": "Band",
        "outline": {
            "rectangle": {"width": 40, "length": 4},
            "sides": {"top": {"partner": "Front/waist + Back/waist"}},
        },
    }
    sheet["pieces"].append(band)
    _, told = run(tmp_path, capsys, sheet)
    row = next(s for s in told["seams"] if s["first"] == "Band/top")
    # 20 cm less a dart of 2 and 20 cm.
    assert (row["second"], row["second_mm"]) == ("Front/waist + Back/waist", 380)
    assert row["difference_mm"] == 20
    assert "seam-lengths-differ" in [f["code"] for f in row["findings"]]
    band["outline"]["sides"]["top"]["partner"] = ["Front/waist", "Yoke/waist"]
    _, told = run(tmp_path, capsys, sheet)
    (unknown,) = [f for f in told["findings"] if f["code"] == "partner-unknown"]
    assert "does not have Yoke/waist" in unknown["message"]
