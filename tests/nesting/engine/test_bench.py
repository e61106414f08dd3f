"""The benches are honest: their own parts are tested, and a sample of the long ones is run."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from shapely.geometry import Polygon

from nesting.engine.improve import first_layout, improve
from nesting.engine.problem import Budget, Item, Placement, Problem, Solution
from nesting.polygon import as_points
from tests.bench.__main__ import main, names
from tests.bench.answers import FREE_OF, compare
from tests.bench.constrained import prove
from tests.bench.garments import LAYS
from tests.bench.nesting import read_instance
from tests.bench.proof import wrongs


@pytest.mark.parametrize("seed", [*range(0, 24, 4), 49, 81])
def test_a_sample_of_the_constrained_lays_is_proved(seed: int) -> None:
    assert prove(seed, 300) == []


def test_the_proof_sees_what_is_wrong() -> None:
    box = as_points([(0, 0), (10, 0), (10, 10), (0, 10)])
    problem = Problem(30.0, (Item("box", box, count=2),))

    def at(*places: tuple[float, float]) -> Solution:
        placements = tuple(Placement(0, k, 0, x, y) for k, (x, y) in enumerate(places))
        return Solution(placements, max(x for x, _ in places) + 10, 0.0)

    assert wrongs(problem, at((0, 0), (0, 10))) == []
    assert any("meets" in w for w in wrongs(problem, at((0, 0), (5, 9))))
    assert any("outside" in w for w in wrongs(problem, at((0, 0), (0, 21))))
    assert any("match" in w for w in wrongs(problem, at((0, 0))))


def test_the_dispatcher_knows_its_benches(capsys: pytest.CaptureFixture[str]) -> None:
    assert {"answers", "nesting", "constrained", "pieces"} <= set(names())
    assert main(["no such bench"]) == 2
    assert "nesting" in capsys.readouterr().out


def test_what_a_pattern_costs_is_told_beside_the_lay() -> None:
    assert set(FREE_OF) | set(FREE_OF.values()) <= set(LAYS)
    rows = {"blouse-19": {"lengths": [1000.0, 800.0]}, "blouse-40": {"lengths": [1030.0, 840.0]}}
    for name in rows:
        compare(rows, name)
    assert rows["blouse-40"]["over_free_percent"] == [3.0, 5.0]
    assert "over_free_percent" not in rows["blouse-19"]


def test_an_instance_is_read(tmp_path: Path) -> None:
    shape = {"type": "simple_polygon", "data": [[0, 0], [0, 2], [3, 2], [3, 0], [0, 0]]}
    item = {"id": 7, "demand": 2, "allowed_orientations": [0, 90, 180], "shape": shape}
    path = tmp_path / "tiny.json"
    path.write_text(json.dumps({"name": "tiny", "strip_height": 4, "items": [item]}))
    problem = read_instance(path)
    assert (problem.width, problem.items[0].count, len(problem.items[0].outline)) == (4.0, 2, 4)
    assert [p.turn_deg for p in read_instance(path, half_turns_only=True).items[0].poses] == [
        0,
        180,
    ]
    assert first_layout(problem).length == pytest.approx(4.0, abs=1e-4)


@pytest.mark.parametrize("name", LAYS)
def test_our_garment_lays_are_sound(name: str) -> None:
    problem = LAYS[name]()
    assert all(Polygon(item.outline).is_valid for item in problem.items)
    assert wrongs(problem, first_layout(problem)) == []


def test_rounds_go_on_where_the_last_one_stopped() -> None:
    problem = LAYS["shirt-8"]()
    best = improve(problem, seed=1, budget=Budget(seconds=0.2))
    for seed in range(2, 5):
        found = improve(problem, best, seed=seed, budget=Budget(seconds=0.2))
        assert found.length <= best.length
        assert wrongs(problem, found) == []
        best = found
