"""Changes of pieces over HTTP: made, drawn, kept by saving the sheet that came back."""

from __future__ import annotations

import copy
import json
import math
from itertools import pairwise
from typing import Any

import pytest
import shapely
from fastapi.testclient import TestClient

from nesting.pieces.partners import said_row
from service.schemas_changes import ChangeAnswer
from service.wardrobe import style_of

BODICE: dict[str, Any] = {
    "format": "grainfold piece sheet",
    "version": 1,
    "unit": "cm",
    "style": "Bodice of the ghost's widow",
    "defaults": {"allowance": {"seam": 1.5, "hem": 4}},
    "pieces": [
        {
            "name": "Front",
            "grain": {"tail": [4, 5], "head": [4, 30]},
            "count": {"pair": 1},
            "outline": {
                "start": [0, 0],
                "edges": [
                    {"name": "hem", "kind": "hem", "to": [24, 0]},
                    {"name": "side", "to": [24, 22], "partner": "Back/side"},
                    {"name": "armhole", "to": [16, 40]},
                    {"name": "shoulder", "to": [6, 44]},
                    {"name": "neck", "curve": [[6, 38], [3, 36], [0, 36]]},
                    {"name": "centre", "to": [0, 0]},
                ],
            },
            "notches": [{"edge": "side", "distance": 5}],
            "darts": [
                {
                    "name": "side dart",
                    "edge": "side",
                    "first": 12,
                    "second": 15,
                    "point": [14, 13.5],
                }
            ],
        },
        {
            "name": "Back",
            "grain": "up",
            "count": {"on fold": 1},
            "outline": {
                "start": [0, 0],
                "edges": [
                    {"name": "hem", "kind": "hem", "to": [22, 0]},
                    {"name": "side", "to": [22, 19], "partner": "Front/side"},
                    {"name": "top", "to": [0, 40]},
                    {"name": "centre", "kind": "fold", "to": [0, 0]},
                ],
            },
        },
        {
            "name": "Belt",
            "outline": {"rectangle": {"width": "2 in", "length": 70}},
        },
    ],
}


def ask(client: TestClient, change: dict[str, Any], piece: str = "Front", **said: Any) -> Any:
    body = {"piece": piece, "change": change, **(said or {"sheet": BODICE})}
    return client.post("/api/changes", json=body)


def made(
    client: TestClient, change: dict[str, Any], piece: str = "Front", **said: Any
) -> dict[str, Any]:
    answer = ask(client, change, piece, **said)
    assert answer.status_code == 200, answer.text
    body: dict[str, Any] = answer.json()
    ChangeAnswer.model_validate(body)
    kept, _ = style_of(body["sheet"], "test")
    assert set(body["made"]) <= {p.name for p in kept.pieces}
    assert not set(body["gone"]) & {p.name for p in kept.pieces}
    for view, entry in zip(body["views"], body["pieces"], strict=True):
        assert view["cut_line"] is not None
        assert entry["origin"]
    return body


def edges(view: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {e["name"]: e for e in view["edges"]}


def partners(body: dict[str, Any]) -> dict[str, str]:
    style, _ = style_of(body["sheet"], "test")
    return {
        f"{p.name}/{e.name}": said_row(e.partners)
        for p in style.pieces
        for e in p.edges
        if e.partners
    }


def test_a_split_gives_two_pieces_in_the_old_ones_place(client: TestClient) -> None:
    body = made(
        client,
        {
            "kind": "split",
            "line": [[120, -10], [120, 500]],
            "names": ["Side front", "Front"],
            "allowance": {"width": "1.2 cm"},
        },
    )
    assert body["made"] == ["Side front", "Front"]
    assert body["gone"] == []
    assert body["touched"] == ["Back"]
    assert [p["name"] for p in body["sheet"]["pieces"]] == ["Side front", "Front", "Back", "Belt"]
    side, front = (edges(v) for v in body["views"])
    assert side["panel seam"]["allowance"]["width_mm"] == 12
    assert side["panel seam"]["length_mm"] == pytest.approx(front["panel seam"]["length_mm"])
    assert partners(body)["Back/side"] == "Side front/side"
    assert partners(body)["Front/panel seam"] == "Side front/panel seam"
    # The widths across add up: 240 mm of hem at 120 and 120.
    assert side["hem"]["length_mm"] == pytest.approx(120)
    assert front["hem"]["length_mm"] == pytest.approx(120)


def test_what_is_untouched_stays_as_it_was_written(client: TestClient) -> None:
    body = made(client, {"kind": "mirror"})
    assert body["sheet"]["pieces"][1:] == BODICE["pieces"][1:]
    assert {k: v for k, v in body["sheet"].items() if k != "pieces"} == {
        k: v for k, v in BODICE.items() if k != "pieces"
    }
    # Written in the sheet's own unit: the piece is 24 cm wide.
    xs = [p["to"][0] for p in body["pieces"][0]["outline"]["edges"] if "to" in p]
    assert max(xs) - min(xs) == pytest.approx(24)


def test_the_partner_is_renamed_in_an_entry_that_is_otherwise_kept(client: TestClient) -> None:
    body = made(client, {"kind": "split", "line": [[120, -10], [120, 500]], "names": ["A", "B"]})
    back = body["sheet"]["pieces"][2]
    wanted = copy.deepcopy(BODICE["pieces"][1])
    wanted["outline"]["edges"][1]["partner"] = "A/side"
    assert back == wanted


def test_both_parts_of_a_partner_cut_in_two_are_sewn_on_and_told(client: TestClient) -> None:
    # The side has a dart, so it is split below it, level across the piece.
    body = made(client, {"kind": "split", "line": [[-10, 80], [250, 80]], "names": ["A", "B"]})
    told = [f for f in body["findings"] if f["code"] == "partner-in-parts"]
    assert [f["where"] for f in told] == ["Back/side"]
    assert partners(body)["Back/side"] in told[0]["message"]
    assert {partners(body)[f"{p}/side"] for p in "AB"} == {"Back/side"}
    back = body["sheet"]["pieces"][2]["outline"]["edges"]
    row = next(e["partner"] for e in back if e["name"] == "side")
    assert sorted(row) == ["A/side", "B/side"]
    before, after = (
        client.post("/api/truing", json={"sheet": sheet}).json()["seams"]
        for sheet in (BODICE, body["sheet"])
    )
    whole = next(s for s in before if "Back/side" in (s["first"], s["second"]))
    parts = next(s for s in after if "Back/side" in (s["first"], s["second"]))
    assert abs(parts["difference_mm"]) == pytest.approx(abs(whole["difference_mm"]), abs=0.01)


def test_a_line_that_ends_inside_is_drawn_on(client: TestClient) -> None:
    short = made(client, {"kind": "split", "line": [[120, 30], [120, 300]], "names": ["A", "B"]})
    long = made(client, {"kind": "split", "line": [[120, -9], [120, 500]], "names": ["A", "B"]})
    for a, b in zip(short["views"], long["views"], strict=True):
        assert a["area_mm2"] == pytest.approx(b["area_mm2"])


def test_a_curve_through_three_points_is_the_circle_through_them(client: TestClient) -> None:
    points = [[60, -1], [120, 200], [60, 401]]
    body = made(client, {"kind": "split", "line": points, "names": ["A", "B"], "smooth": True})
    seam = edges(body["views"][0])["panel seam"]["points"]
    # Sagitta 60 over a chord of 402: radius (201^2 + 60^2) / 120.
    radius = (201**2 + 60**2) / 120
    away = [abs(math.dist(p, (120 - radius, 200)) - radius) for p in seam]
    # A cubic over 33 degrees strays from its circle by little; the points themselves lie on it.
    assert max(away) < 0.5
    assert len(seam) > 20


@pytest.mark.parametrize("smooth", [False, True])
def test_a_split_runs_through_all_its_points(client: TestClient, smooth: bool) -> None:
    """Through four points within: straight from point to point with their corners, or smoothly."""
    points = [[60, -1], [90, 80], [60, 160], [110, 240], [100, 330], [90, 430]]
    change = {"kind": "split", "line": points, "names": ["A", "B"], "smooth": smooth}
    body = made(client, change)
    turns = []
    for view in body["views"]:
        seam = edges(view)["panel seam"]["points"]
        for wanted in points[1:-1]:
            assert min(math.dist(p, wanted) for p in seam) < 0.001
        steps = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(seam)]
        turns.append(
            max(
                abs(math.degrees(math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1])))
                for u, v in pairwise(steps)
            )
        )
    # The sharpest of the drawn corners turns by 65.6 degrees, at (60, 160).
    sharpest = math.degrees(math.atan2(30, 80) + math.atan2(50, 80))
    if smooth:
        assert max(turns) < 5
    else:
        assert turns == pytest.approx([sharpest, sharpest], abs=0.01)
    (front,) = (p for p in style_of(BODICE, "test")[0].pieces if p.name == "Front")
    drawn = shapely.Polygon(front.outline).area
    assert sum(drawn_area(v) for v in body["views"]) == pytest.approx(drawn, abs=1.0)


def drawn_area(view: dict[str, Any]) -> float:
    return float(shapely.Polygon([p for e in view["edges"] for p in e["points"][:-1]]).area)


def test_a_split_that_turns_back_on_itself_is_refused(client: TestClient) -> None:
    points = [[60, -1], [60, 200], [60, 100], [120, 300], [90, 430]]
    for smooth in (False, True):
        answer = ask(client, {"kind": "split", "line": points, "smooth": smooth})
        assert answer.status_code == 422
        assert "crosses itself" in answer.json()["error"]["message"]


def test_a_dart_is_closed_and_opened_elsewhere_with_its_angle(client: TestClient) -> None:
    body = made(
        client,
        {"kind": "move dart", "dart": "side dart", "edge": "shoulder", "distance": "5 cm"},
    )
    (view,) = body["views"]
    (dart,) = view["darts"]

    def angle(a: list[float], b: list[float], tip: list[float]) -> float:
        u, v = ([p[0] - tip[0], p[1] - tip[1]] for p in (a, b))
        return math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1])

    before = angle([240, 120], [240, 150], [140, 135])
    assert angle(dart["first"], dart["second"], dart["point"]) == pytest.approx(before, abs=1e-4)
    # 220 mm of side less 30 mm of mouth; the smooth curve cuts across the bend of 17 degrees.
    assert edges(view)["side"]["length_mm"] == pytest.approx(190, abs=1.0)
    assert body["text"].startswith("Dart side dart of Front is closed")


@pytest.mark.parametrize("smooth", [0, 60])
def test_the_closed_seam_is_redrawn_smooth_unless_told_not_to(
    client: TestClient, smooth: float
) -> None:
    change = {"kind": "move dart", "dart": "side dart", "edge": "shoulder", "distance": 50}
    body = made(client, {**change, "smooth": smooth})
    points = edges(body["views"][0])["side"]["points"]
    steps = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points)]
    turns = [
        abs(math.degrees(math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1])))
        for u, v in pairwise(steps)
    ]
    # The dart closes 17 degrees: as it falls they are one bend, redrawn no bend is sharp.
    assert (max(turns) > 10) == (smooth == 0)
    assert max(turns) < (18 if smooth == 0 else 3)


@pytest.mark.parametrize(
    ("line", "smooth"),
    [([], False), ([[130, 130], [140, 135]], False), ([[138, 128]], True)],
    ids=["nothing between", "with the darts' points, as the desk says it", "through a third point"],
)
def test_both_darts_become_a_panel_line(
    client: TestClient, line: list[list[float]], smooth: bool
) -> None:
    sheet = copy.deepcopy(BODICE)
    sheet["pieces"][0]["darts"].append(
        {"name": "waist dart", "edge": "hem", "first": 9, "second": 11, "point": [13, 13]}
    )
    body = made(
        client,
        {
            "kind": "split",
            "line": line,
            "smooth": smooth,
            "from_dart": "waist dart",
            "to_dart": "side dart",
            "names": ["Side front", "Front"],
        },
        sheet=sheet,
    )
    assert [v["darts"] for v in body["views"]] == [[], []]


def test_stand_buttons_facing_one_after_the_other(client: TestClient) -> None:
    body = made(client, {"kind": "stand", "edge": "centre", "width": 15})
    body = made(
        client,
        {"kind": "buttons", "count": 5, "first": 10, "last": 20, "diameter": "1/2 in"},
        sheet=body["sheet"],
    )
    kinds = [m["kind"] for m in body["views"][0]["marks"]]
    assert kinds.count("button") == kinds.count("buttonhole") == 5
    body = made(
        client,
        {"kind": "facing", "edges": ["neck", "stand edge"], "depth": 50, "cloth": "lining"},
        sheet=body["sheet"],
    )
    assert body["made"] == ["Front", "Front facing"]
    assert body["views"][1]["cloth"] == "lining"
    assert body["pieces"][1]["origin"].endswith(
        "stand of 15 mm at centre; 5 buttons; facing of neck, stand edge"
    )


def test_a_stand_on_a_fold_makes_a_pair(client: TestClient) -> None:
    body = made(client, {"kind": "stand", "edge": "centre", "width": 15}, "Back")
    assert body["views"][0]["count"] == {"drawn": 1, "turned": 1}
    assert not body["views"][0]["on_fold"]


def test_a_hem_facing_is_sewn_to_its_hem(client: TestClient) -> None:
    body = made(client, {"kind": "hem facing", "edge": "hem", "depth": 40, "allowance": 10}, "Back")
    assert partners(body)["Back/hem"] == "Back hem facing/hem"
    assert partners(body)["Back hem facing/hem"] == "Back/hem"
    back, strip = (edges(v)["hem"] for v in body["views"])
    assert back["kind"] == strip["kind"] == "seam"
    assert back["allowance"]["width_mm"] == strip["allowance"]["width_mm"] == 10
    assert back["length_mm"] == pytest.approx(strip["length_mm"])


@pytest.mark.parametrize(("by", "tall"), [("1 in", 25.4), ("-1 in", -25.4), (-10, -10), (25, 25)])
def test_lengthen_and_shorten(client: TestClient, by: str | float, tall: float) -> None:
    change = {"kind": "lengthen", "line": [[-50, 60], [350, 60]], "by": by}
    body = made(client, change)
    assert edges(body["views"][0])["centre"]["length_mm"] == pytest.approx(360 + tall)


def test_unfold_and_what_has_no_fold(client: TestClient) -> None:
    body = made(client, {"kind": "unfold"}, "Back")
    assert body["views"][0]["area_mm2"] == pytest.approx(2 * 220 * (400 + 190) / 2)
    answer = ask(client, {"kind": "unfold"})
    assert answer.status_code == 422
    assert answer.json()["error"]["where"] == "Front"


def test_a_mirrored_piece_swaps_its_hands(client: TestClient) -> None:
    sheet = copy.deepcopy(BODICE)
    sheet["pieces"][2]["count"] = {"drawn": 3, "turned": 1}
    swapped = made(client, {"kind": "mirror"}, "Belt", sheet=sheet)["views"][0]["count"]
    assert swapped == {"drawn": 1, "turned": 3}
    kept = made(client, {"kind": "mirror", "counts": "keep"}, "Belt", sheet=sheet)
    assert kept["views"][0]["count"] == {"drawn": 3, "turned": 1}


def test_usual_widths_by_word_and_edges_that_keep_their_own(client: TestClient) -> None:
    words = client.get("/api/allowances/usual").json()
    home = next(w["mm"] for w in words["seams"] if w["name"] == "home sewing")
    assert home == pytest.approx(15.875)  # 5/8 in, S. Lo, Pattern Cutting (2011), p. 107
    body = made(
        client, {"kind": "allowances", "seam": "home sewing", "hem": "shirt", "keep": ["neck"]}
    )
    widths = {n: e["allowance"]["width_mm"] for n, e in edges(body["views"][0]).items()}
    assert widths["side"] == pytest.approx(15.875)
    assert widths["hem"] == pytest.approx(12.7)
    assert widths["neck"] == 15


def test_a_piece_drawn_with_its_allowance_gets_its_net_line_first(client: TestClient) -> None:
    sheet = copy.deepcopy(BODICE)
    del sheet["pieces"][0]["darts"]
    for edge in sheet["pieces"][0]["outline"]["edges"]:
        edge["allowance"] = {"state": "included", "width": 1}
    body = made(client, {"kind": "facing", "edges": ["neck"], "depth": 40}, sheet=sheet)
    assert "net-line-first" in [f["code"] for f in body["findings"]]
    allowance = edges(body["views"][1])["neck"]["allowance"]
    assert (allowance["state"], allowance["width_mm"]) == ("add", pytest.approx(10.0))


def test_saving_the_answer_keeps_it_and_undo_takes_it_back(client: TestClient) -> None:
    kept = client.post("/api/styles", json=BODICE).json()
    body = made(
        client,
        {"kind": "split", "line": [[120, -9], [120, 500]], "names": ["A", "B"]},
        style_id=kept["id"],
    )
    assert client.get(f"/api/styles/{kept['id']}").json()["revision"] == kept["revision"]
    update = {"sheet": body["sheet"], "revision": kept["revision"]}
    saved = client.put(f"/api/styles/{kept['id']}", json=update)
    assert saved.status_code == 200, saved.text
    assert [p["name"] for p in saved.json()["pieces"]] == ["A", "B", "Back", "Belt"]
    assert saved.json()["pieces"][:2] == body["views"]
    back = client.post(f"/api/styles/{kept['id']}/undo").json()
    assert back["sheet"] == BODICE


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"kind": "split", "line": [[120, 0]]}, "change.line"),
        ({"kind": "split", "line": [[-10, 300], [-10, -300]]}, "Front"),
        ({"kind": "split", "line": [[120, -9], [120, 500]], "names": ["Back", "B"]}, "Back"),
        ({"kind": "split", "line": [[120, -9], [120, 500]], "names": ["A", "A"]}, "A"),
        ({"kind": "split", "line": [[-10, 135], [300, 135]]}, "Front/side"),
        ({"kind": "move dart", "dart": "bust", "edge": "neck", "distance": 10}, "Front"),
        ({"kind": "move dart", "dart": "side dart", "edge": "cuff", "distance": 10}, "Front"),
        ({"kind": "stand", "edge": "neck", "width": 10}, "Front"),
        ({"kind": "stand", "edge": "centre", "width": "two"}, "change.width"),
        ({"kind": "facing", "edges": ["side"], "depth": 30}, "Front/side"),
        ({"kind": "lengthen", "line": [[0, 900], [100, 900]], "by": 10}, "Front"),
        ({"kind": "buttons", "count": 5, "first": 1, "last": 1, "diameter": 10}, "Front"),
        ({"kind": "allowances", "seam": "a thumb"}, "change.seam"),
    ],
)
def test_refusals_name_the_piece_edge_or_field(
    client: TestClient, change: dict[str, Any], where: str
) -> None:
    answer = ask(client, change)
    assert answer.status_code == 422, answer.text
    error = answer.json()["error"]
    assert error["where"] == where
    assert error["message"]
    assert error["hint"]


def test_a_request_says_one_style_and_a_piece_it_has(client: TestClient) -> None:
    change = {"kind": "mirror"}
    assert ask(client, change, "Sleeve").json()["error"]["where"] == "piece"
    both = client.post(
        "/api/changes", json={"style_id": "x", "sheet": BODICE, "piece": "Front", "change": change}
    )
    assert both.status_code == 422
    assert ask(client, change, style_id="unknown").status_code == 404
    assert ask(client, {"kind": "dye"}).status_code == 422


def test_an_unsaved_sheet_is_trued_like_a_stored_one(client: TestClient) -> None:
    kept = client.post("/api/styles", json=BODICE).json()
    stored = client.get(f"/api/styles/{kept['id']}/truing").json()
    assert client.post("/api/truing", json={"sheet": BODICE}).json() == stored
    assert client.post("/api/truing", json={"style_id": kept["id"]}).json() == stored


def test_every_kind_is_documented_with_an_example(client: TestClient) -> None:
    schemas = client.get("/api/openapi.json").json()["components"]["schemas"]
    text = json.dumps(schemas)
    for kind in ("split", "move dart", "hem facing", "end edge", "allowances"):
        assert f'"const": "{kind}"' in text
