"""What was kept is there after a crash: killed workers, a killed service, a new start."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx2
import pytest
from fastapi.testclient import TestClient

from service.errors import BusyError
from service.pool import WorkerPool
from service.settings import Settings
from service.store import lays
from service.store.database import Database
from tests.service.sheets import SEVERAL
from tests.service.test_lays import lay_of, wait
from tests.service.test_styles import add

ROOT = Path(__file__).resolve().parents[2]
SMALL = {"shell": {"width": 700, "selvedge": 0}}


@pytest.mark.parametrize("code", ["worker_hung", "workers_lost"])
def test_a_lay_whose_workers_are_gone_ends_with_what_it_has(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, code: str
) -> None:
    def gone(*_: object, **__: object) -> None:
        raise BusyError("a process was ended", hint="What was found before is kept.", code=code)

    monkeypatch.setattr(WorkerPool, "run", gone)
    style = add(client, SEVERAL)
    ended = wait(client, lay_of(client, style["id"], seconds=3, cloths=SMALL)["id"])
    assert (ended["state"], ended["error"]["code"]) == ("stopped", code)
    assert len(ended["cloths"][0]["placements"]) == 15
    assert not ended["cloths"][0]["searching"]


def test_a_lay_goes_on_when_its_workers_are_killed(client: TestClient) -> None:
    lay = lay_of(client, add(client, SEVERAL)["id"], seconds=3, cloths=SMALL)
    pool = client.app.state.pool  # type: ignore[attr-defined]
    end = time.monotonic() + 30
    # All of them: CPython's executor may itself stumble when one dies while it spawns the next.
    while len(pool.worker_pids()) < pool.lanes:
        assert time.monotonic() < end
        time.sleep(0.02)
    for pid in pool.worker_pids():
        os.kill(pid, signal.SIGKILL)
    done = wait(client, lay["id"])
    assert (done["state"], done["error"]) == ("done", None)
    assert len(done["cloths"][0]["placements"]) == 15


def test_a_search_cut_off_by_a_crash_shows_as_stopped(
    make_client: Callable[..., TestClient], settings: Settings
) -> None:
    first = make_client()
    lay = wait(first, lay_of(first, add(first, SEVERAL)["id"], seconds=0, cloths=SMALL)["id"])
    # As a crash leaves it: searching, with a result.
    database = Database(settings.url)
    with database.writing() as session:
        lays.set_state(session, lay["id"], "searching")
        lays.keep_result(session, lay["id"], 0, {**lay["cloths"][0], "searching": True})
    database.close()
    again = make_client(settings).get(f"/api/lays/{lay['id']}").json()
    assert again["state"] == "stopped"
    assert again["cloths"] == lay["cloths"]


def test_a_lay_that_had_nothing_yet_is_begun_again(
    make_client: Callable[..., TestClient], settings: Settings
) -> None:
    first = make_client()
    style = add(first, SEVERAL)
    database = Database(settings.url)
    request = {"style_id": style["id"], "seconds": 0, "cloths": SMALL}
    with database.writing() as session:
        row = lays.add_lay(
            session, style_id=str(style["id"]), revision=1, style="Patches", request=request
        )
    database.close()
    done = wait(make_client(settings), row.id)
    assert done["state"] == "done"
    assert len(done["cloths"][0]["placements"]) == 15


def test_a_lay_that_cannot_begin_again_fails_alone(
    make_client: Callable[..., TestClient], settings: Settings
) -> None:
    style = add(make_client(), SEVERAL)
    database = Database(settings.url)
    request = {"style_id": style["id"], "cloths": {"shell": {"width": 60}}}
    with database.writing() as session:
        row = lays.add_lay(
            session, style_id=str(style["id"]), revision=1, style="Patches", request=request
        )
    database.close()
    second = make_client(settings)
    failed = wait(second, row.id)
    assert failed["state"] == "failed"
    assert failed["error"]["where"].startswith("Patch")
    assert second.get("/api/styles").status_code == 200


@pytest.mark.slow
def test_a_killed_service_takes_its_workers_along_and_keeps_its_results(tmp_path: Path) -> None:
    data = tmp_path / "data"
    first, address = _serve(data)
    with httpx2.Client(base_url=address, headers={"Origin": address}, timeout=30) as page:
        style = page.post("/api/styles", json=SEVERAL).json()
        wish = {"style_id": style["id"], "seconds": 600, "cloths": SMALL}
        lay_id = page.post("/api/lays", json=wish).json()["id"]
        found = _first_result(page, lay_id)
    children = _children(first.pid)
    assert children
    first.kill()
    _wait(first)
    end = time.monotonic() + 20
    while any(Path(f"/proc/{pid}").exists() for pid in children):
        assert time.monotonic() < end, "workers outlive the service"
        time.sleep(0.1)
    second, address = _serve(data)
    try:
        again = httpx2.get(f"{address}/api/lays/{lay_id}").json()
        assert again["state"] == "stopped"
        assert again["cloths"][0]["length_mm"] <= found["length_mm"]
        assert len(again["cloths"][0]["placements"]) == 15
    finally:
        second.terminate()
        _wait(second)


def _serve(data: Path) -> tuple[subprocess.Popen[str], str]:
    command = [sys.executable, "-c", "from service.cli import main; main()"]
    process = subprocess.Popen(
        [*command, "serve", "--port", "0", "--data", str(data)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "GRAINFOLD_DEMO": "false"},
    )
    assert process.stdout is not None
    for line in process.stdout:
        if line.startswith("The desk:"):
            return process, line.split()[2].rstrip("/")
    raise AssertionError("the service did not start")


def _wait(process: subprocess.Popen[str]) -> None:
    process.wait()
    assert process.stdout is not None
    process.stdout.close()


def _first_result(page: httpx2.Client, lay_id: str) -> dict[str, Any]:
    end = time.monotonic() + 60
    while True:
        cloths = page.get(f"/api/lays/{lay_id}").json()["cloths"]
        if cloths:
            return dict(cloths[0])
        assert time.monotonic() < end
        time.sleep(0.1)


def _children(pid: int) -> list[int]:
    tasks = Path(f"/proc/{pid}/task").glob("*/children")
    return [int(child) for task in tasks for child in task.read_text().split()]
