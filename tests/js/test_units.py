"""The pages' pure modules, run by node's own test runner; lengths.json binds both languages."""

from __future__ import annotations

import json
from typing import Any

import pytest

from nesting.units import LengthError, parse_length, show_cloth_length, show_length
from tests.js import node_tools

TABLE: dict[str, Any] = json.loads((node_tools.HERE / "lengths.json").read_text())
FILES = sorted(p.name for p in node_tools.HERE.glob("*.test.js"))


@pytest.mark.parametrize("name", FILES)
def test_pure_module(name: str) -> None:
    said = node_tools.run(
        [node_tools.tool("node"), "--test", "--test-reporter=tap", str(node_tools.HERE / name)]
    )
    assert "# fail 0" in said
    assert "# skipped 0" in said
    assert "# pass 0" not in said


def test_there_are_pure_tests() -> None:
    assert {"units.test.js", "geometry.test.js", "state.test.js"} <= set(FILES)


@pytest.mark.parametrize(("text", "mm"), TABLE["parse"])
def test_python_reads_the_same_table(text: str, mm: float) -> None:
    assert parse_length(text) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize("text", TABLE["refuse"])
def test_python_refuses_the_same(text: str) -> None:
    with pytest.raises(LengthError):
        parse_length(text)


@pytest.mark.parametrize(("mm", "metric", "imperial"), TABLE["size"])
def test_python_shows_the_same_sizes(mm: float, metric: str, imperial: str) -> None:
    assert show_length(mm) == metric
    assert show_length(mm, system="imperial") == imperial


@pytest.mark.parametrize(("mm", "metric", "imperial"), TABLE["cloth"])
def test_python_shows_the_same_cloth(mm: float, metric: str, imperial: str) -> None:
    assert show_cloth_length(mm) == metric
    assert show_cloth_length(mm, unit="yd") == imperial
