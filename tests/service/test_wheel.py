"""The wheel works away from the checkout: pages, migrations and demo are inside it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), "."]
    made = subprocess.run(build, cwd=ROOT, capture_output=True, text=True, check=False)
    assert made.returncode == 0, made.stdout + made.stderr
    (file,) = out.glob("grainfold-*.whl")
    return file


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel unpacked by pip into a directory of its own; what it needs comes from here."""
    place = tmp_path_factory.mktemp("site")
    pip = [sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--no-index"]
    subprocess.run([*pip, "--target", str(place), str(wheel)], check=True, capture_output=True)
    return place


def grainfold(installed: Path, cwd: Path, *arguments: str) -> str:
    """What the installed command prints, run far from the checkout."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "GRAINFOLD"))}
    ran = subprocess.run(
        [sys.executable, str(installed / "bin" / "grainfold"), *arguments],
        cwd=cwd,
        env={**kept, "PYTHONPATH": str(installed), "XDG_DATA_HOME": str(cwd / "share")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stdout


def test_the_wheel_holds_what_the_service_needs(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    assert "service/store/migrations/env.py" in names
    assert "service/store/migrations/versions/0001_first.py" in names
    assert "service/demo/waistcoat.json" in names
    assert "web/index.html" in names
    assert not any(name.startswith("tests/") for name in names)


def test_the_command_runs_away_from_the_checkout(installed: Path, tmp_path: Path) -> None:
    assert "estimate" in grainfold(installed, tmp_path, "--help")
    demo = str(installed / "service" / "demo" / "waistcoat.json")
    said = json.loads(grainfold(installed, tmp_path, "estimate", demo, "--steps", "0", "--json"))
    assert [c["cloth"] for c in said["cloths"]] == ["shell", "lining", "interfacing"]


def test_a_store_is_made_away_from_the_checkout(installed: Path, tmp_path: Path) -> None:
    script = (
        "import service, sys; from pathlib import Path; from fastapi.testclient import TestClient;"
        "from service.app import create_app; from service.settings import Settings;"
        "app = create_app(Settings(data=Path('data'), warm_up=False));"
        "client = TestClient(app, base_url='http://localhost', client=('127.0.0.1', 1)); client.__enter__();"
        "assert Path(service.__file__).is_relative_to(sys.argv[1]), service.__file__;"
        "assert len(client.get('/api/styles').json()['styles']) >= 5;"
        "assert client.get('/').headers['content-type'].startswith('text/html');"
        "client.__exit__(None, None, None); print('fine')"
    )
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "GRAINFOLD"))}
    ran = subprocess.run(
        [sys.executable, "-c", script, str(installed)],
        cwd=tmp_path,
        env={**kept, "PYTHONPATH": str(installed)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.stdout == "fine\n", ran.stderr
