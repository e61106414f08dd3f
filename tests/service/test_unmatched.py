"""A seam that cannot match at the repeat is told wherever a lay is: by HTTP, in words, as JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.cli import main


def panel(name: str, left: str, right: str, slope: float) -> dict[str, Any]:
    """A panel whose hem rises by ``slope`` from left to right: its seams meet at their lower ends."""
    return {
        "name": name,
        "count": {"drawn": 1},
        "grain": "up",
        "outline": {
            "start": [0, 0],
            "edges": [
                {"name": "hem", "kind": "hem", "to": [200, slope]},
                {"name": "right", "partner": right, "to": [200, 500 + slope]},
                {"name": "top", "to": [0, 500]},
                {"name": "left", "partner": left, "to": [0, 0]},
            ],
        },
    }


# Round the skirt the hems climb by 0, 0 and 20 mm: the last seam meets the first 20 mm too high.
SKIRT: dict[str, Any] = {
    "format": "grainfold piece sheet",
    "version": 1,
    "unit": "mm",
    "style": "Striped skirt of the innkeeper",
    "defaults": {"allowance": {"seam": 10, "hem": 30}},
    "pieces": [
        panel("Back", "Side/right", "Front/left", 0),
        panel("Front", "Back/right", "Side/left", 0),
        panel("Side", "Front/right", "Back/left", 20),
    ],
}


def laid(client: TestClient, repeat: float) -> dict[str, Any]:
    style = client.post("/api/styles", json=SKIRT).json()
    asked = {
        "style_id": style["id"],
        "steps": 0,
        "cloths": {"shell": {"width": 1500, "fold": "open", "repeat_along": repeat}},
    }
    lay = client.post("/api/lays", json=asked)
    assert lay.status_code == 202, lay.text
    with client.stream("GET", f"/api/lays/{lay.json()['id']}/events") as events:
        for _ in events.iter_lines():
            pass
    found: dict[str, Any] = client.get(f"/api/lays/{lay.json()['id']}").json()
    return found


def test_a_seam_that_cannot_match_is_in_the_lay(client: TestClient) -> None:
    lay = laid(client, 70)
    (finding,) = lay["cloths"][0]["findings"]
    assert finding["code"] == "seam_cannot_match"
    assert "20 mm off the repeat" in finding["message"]
    assert finding["hint"]


@pytest.mark.parametrize("repeat", [0, 10])
def test_nothing_is_told_where_everything_matches(client: TestClient, repeat: float) -> None:
    # 20 mm are two repeats of 10.
    assert laid(client, repeat)["cloths"][0]["findings"] == []


def test_the_command_line_tells_it_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "skirt.json"
    file.write_text(json.dumps(SKIRT), encoding="utf-8")
    asked = ["estimate", str(file), "--repeat-along", "70", "--steps", "0"]
    for extra, where in ((["--json"], "seam_cannot_match"), ([], "off the repeat")):
        with pytest.raises(SystemExit) as ended:
            main([*asked, *extra])
        assert ended.value.code in (0, None)
        assert where in capsys.readouterr().out
