"""The pages' modules pass TypeScript's strict check of their JSDoc types."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.js import node_tools

TSC = "typescript/bin/tsc"


def check(config: Path) -> str:
    """What tsc says; AssertionError when it finds an error."""
    tsc = node_tools.packages() / TSC
    return node_tools.run([node_tools.tool("node"), str(tsc), "-p", str(config)])


def test_every_module_is_typed() -> None:
    assert check(node_tools.HERE / "jsconfig.json") == ""


def test_the_check_has_teeth(tmp_path: Path) -> None:
    config = json.loads((node_tools.HERE / "jsconfig.json").read_text())
    config["include"] = ["*.js"]
    (tmp_path / "jsconfig.json").write_text(json.dumps(config))
    (tmp_path / "bad.js").write_text(
        "/** @param {number} mm @returns {string} */\nexport const f = (mm) => mm * 2;\n"
    )
    with pytest.raises(AssertionError, match="TS2322"):
        check(tmp_path / "jsconfig.json")
