"""The command line as other programs call it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely import Polygon

from service import cli, pipeline
from service.schemas import ClothResult
from tests.service.sheets import APRON, SEVERAL, with_piece

DEMO = Path(cli.__file__).parent / "demo"


def run(*arguments: str | Path) -> int:
    try:
        cli.main([str(a) for a in arguments])
    except SystemExit as ended:
        return int(ended.code or 0)
    return 0


@pytest.fixture
def apron(tmp_path: Path) -> Path:
    file = tmp_path / "apron.json"
    file.write_text(json.dumps(APRON))
    return file


def answer(capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    return dict(json.loads(capsys.readouterr().out))


def test_estimate_prints_the_agreed_object(capsys: pytest.CaptureFixture[str]) -> None:
    waistcoat = DEMO / "waistcoat.json"
    options = ("--width", "1400", "--fold", "lengthwise", "--steps", "0", "--json")
    assert run("estimate", waistcoat, *options) == 0
    said = answer(capsys)
    assert set(said) == {"style", "seed", "seconds", "steps", "cloths"}
    cloths = [ClothResult.model_validate(c) for c in said["cloths"]]
    assert [c.cloth for c in cloths] == ["shell", "lining", "interfacing"]
    for cloth in cloths:
        check_layout(cloth)


def check_layout(cloth: ClothResult) -> None:
    """Legal by shapely alone: no overlap within a ply, inside its zone, every asked hand once."""
    zones = {z.id: z for z in cloth.zones}
    placed = [(p, Polygon(p.cut_line)) for p in cloth.placements]
    for i, (one, shape) in enumerate(placed):
        zone = zones[one.zone]
        x0, y0, x1, y1 = shape.bounds
        assert x0 >= zone.x0 - 0.1
        assert x1 <= zone.x1 + 0.1
        assert y0 >= zone.y0 - 0.1
        assert y1 <= zone.y1 + 0.1
        if one.on_fold:
            assert y0 == pytest.approx(0, abs=0.05)
        for other, other_shape in placed[i + 1 :]:
            if one.zone == other.zone:
                # A tenth of a millimetre is finer than anybody cuts.
                assert not shape.buffer(-0.05).intersects(other_shape.buffer(-0.05))
    laid: dict[tuple[str, str], int] = {}
    for p in cloth.placements:
        for hand in p.hands:
            laid[p.piece, hand] = laid.get((p.piece, hand), 0) + 1
    asked = {(a.piece, "drawn"): a.drawn for a in cloth.asked}
    asked |= {(a.piece, "turned"): a.turned for a in cloth.asked}
    assert laid == {key: n for key, n in asked.items() if n}


def test_nap_never_turns_a_piece(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("estimate", DEMO / "waistcoat.json", "--nap", "--steps", "0", "--json") == 0
    turns = {p["turn_deg"] for c in answer(capsys)["cloths"] for p in c["placements"]}
    assert turns == {0.0}


def test_units_and_steps_of_the_shop(apron: Path, capsys: pytest.CaptureFixture[str]) -> None:
    options = ("--width", "59 1/16in", "--step", "1/8 yd", "--cloth", "shell", "--steps", "0")
    assert run("estimate", apron, *options, "--json") == 0
    (shell,) = answer(capsys)["cloths"]
    assert shell["usable_width_mm"] == pytest.approx(59.0625 * 25.4 - 24, abs=1e-3)
    assert shell["buy_text"].endswith("yd")
    assert shell["buy_mm"] % (914.4 / 8) == pytest.approx(0, abs=1e-6)


def test_the_same_steps_repeat_exactly_with_any_pool(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "patches.json"
    file.write_text(json.dumps(SEVERAL))
    options = ("--width", "700", "--steps", "60", "--seed", "3", "--workers", "1", "--json")
    placed = []
    for _ in range(2):
        assert run("estimate", file, *options) == 0
        placed.append(answer(capsys)["cloths"][0]["placements"])
    assert placed[0] == placed[1]


def test_best_tries_every_fold_that_is_offered(
    apron: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert (
        run("estimate", apron, "--fold", "best", "--cloth", "shell", "--steps", "0", "--json") == 0
    )
    (shell,) = answer(capsys)["cloths"]
    tried = {t["fold"] for t in shell["tried"]}
    assert tried == {f.value for f in pipeline.OFFERED_FOLDS}
    assert shell["need_mm"] == min(t["length_mm"] for t in shell["tried"]) + 40


def test_does_it_fit(apron: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("estimate", apron, "--cloth", "shell", "--steps", "0", "--length", "60cm") == 0
    said = capsys.readouterr().out
    # The skirt alone is 655 mm long with its allowances: no layout can be short enough.
    assert "cannot fit" in said
    assert "Skirt" in said


def test_cloth_that_is_too_short_is_told_what_goes_on_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "patches.json"
    file.write_text(json.dumps(SEVERAL))
    options = ("--width", "700", "--steps", "300", "--length", "60cm", "--workers", "1")
    assert run("estimate", file, *options, "--json") == 0
    (cloth,) = answer(capsys)["cloths"]
    held = cloth["held"]
    laid = sum(len(p["hands"]) for p in held["placements"])
    assert laid + sum(a["drawn"] + a["turned"] for a in held["not_laid"]) == 15
    assert 0 < laid < 15
    assert held["length_mm"] <= 600 - 40
    assert cloth["fits_text"].endswith(held["text"])
    assert held["text"].startswith("All but Patch")


def test_cloth_that_is_long_enough_leaves_an_offcut(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "patches.json"
    file.write_text(json.dumps(SEVERAL))
    options = ("--width", "700", "--steps", "300", "--length", "3m", "--workers", "1")
    assert run("estimate", file, *options, "--json") == 0
    (cloth,) = answer(capsys)["cloths"]
    assert cloth["held"] is None
    assert cloth["slack_mm"] == pytest.approx(3000 - 40 - cloth["length_mm"], abs=1e-3)
    assert f"leaves {cloth['slack_mm'] / 10:.1f} cm" in cloth["fits_text"]


def test_several_sources_are_laid_together(
    apron: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = {**APRON, "style": "Apron of the cook"}
    (tmp_path / "cook.json").write_text(json.dumps(other))
    assert run("estimate", tmp_path, "--cloth", "lining", "--steps", "0", "--json") == 0
    said = answer(capsys)
    assert said["style"] == "Apron of the inn scene + Apron of the cook"
    assert {p["piece"] for p in said["cloths"][0]["placements"]} == {
        "Apron of the inn scene: Band lining",
        "Apron of the cook: Band lining",
    }


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("estimate", "missing.json"), 1, "missing.json cannot be opened"),
        (("estimate", "APRON", "--width", "3 elephants"), 1, "elephants"),
        (("estimate", "APRON", "--width", "300"), 1, "Skirt is"),
        (("estimate", "APRON", "--fold", "sideways"), 1, "not a way to fold"),
        (("estimate", "APRON", "--cloth", "velvet"), 1, "velvet"),
        (("estimate", "APRON", "--seconds", "1", "--steps", "1"), 1, "either --seconds or --steps"),
        (("estimate", "APRON", "--copies", "0"), 1, "--copies"),
        (("estimate", "APRON", "--out", "plan.bmp"), 1, "no kind of drawing"),
        (("estimate", "APRON", "--out", "plan"), 1, "no kind of drawing"),
        (
            (
                "map",
                "photo.jpg",
                "--board",
                "9by6",
                "--measured-x",
                "8:200",
                "--measured-y",
                "5:125",
            ),
            1,
            "--board wants",
        ),
        (("fly",), 2, "fly"),
        (("estimate", "APRON", "--colour", "red"), 2, "--colour"),
    ],
)
def test_mistakes_are_one_line_and_a_code(
    apron: Path,
    capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...],
    code: int,
    says: str,
) -> None:
    assert run(*(apron if a == "APRON" else a for a in arguments)) == code
    shown = capsys.readouterr()
    assert shown.out == ""
    assert says in shown.err
    assert "Traceback" not in shown.err
    if code == 1:
        assert shown.err.count("\n") == 1


def test_help_shows_only_what_there_is(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--help") == 0
    said = capsys.readouterr().out
    for command in ("serve", "estimate", "check", "cut", "map"):
        assert f"  {command} " in said


def test_check_tells_findings_and_ends_with_one_on_a_refusal(
    tmp_path: Path, apron: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("check", apron) == 0
    assert "Skirt: 60.0 cm tall, 45.0 cm wide; one, on the fold, shell" in capsys.readouterr().out
    bad = tmp_path / "bad.json"
    bad.write_text(json.dumps(with_piece(outline={"points": [[0, 0], [300, 0], [600, 0]]})))
    assert run("check", bad, "--json") == 1
    said = answer(capsys)
    assert [f["code"] for f in said["pieces"][0]["findings"] if f["level"] == "refused"] == [
        "piece-no-area"
    ]


def test_demo_checks_without_a_refusal(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", DEMO) == 0
    assert len([line for line in capsys.readouterr().out.splitlines() if "tall" in line]) >= 30


def test_answers_are_plain_numbers(apron: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("estimate", apron, "--cloth", "lining", "--steps", "0", "--json") == 0
    text = capsys.readouterr().out
    assert "NaN" not in text
    assert "Infinity" not in text
    (lining,) = json.loads(text)["cloths"]
    assert np.isfinite([lining["length_mm"], lining["floor_mm"], lining["utilisation"]]).all()
