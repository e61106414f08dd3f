"""The benchmarks run: not how fast, but that they measure what they say."""

from __future__ import annotations

import json

import pytest

from tests.bench import pipeline
from tests.bench.__main__ import main, names


def test_the_pipeline_benchmark_measures_every_stage(capsys: pytest.CaptureFixture[str]) -> None:
    case = pipeline.measure(5, 1)
    assert case["pieces"] == 5
    assert case["seconds"] == pytest.approx(sum(case["stages"].values()))
    assert case["search_length_mm"] <= case["length_mm"] + 0.1
    assert case["floor_mm"] <= case["search_length_mm"] + 0.1
    style = json.loads(pipeline.sheet_of(60))
    assert len({p["name"] for p in style["pieces"]}) == 60


def test_an_unknown_benchmark_names_those_that_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["no such thing"]) == 2
    assert "pipeline" in capsys.readouterr().out
    assert "pipeline" in names()
