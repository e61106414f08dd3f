"""Progress as server-sent events, over a real socket."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import httpx2
import pytest

from service.routes.lays import _is_older
from service.schemas import ClothResult
from service.searches import Event
from service.settings import Settings
from tests.service.live import live_service
from tests.service.sheets import SEVERAL

SMALL = {"shell": {"width": 700, "selvedge": 0}}


@pytest.fixture
def page(settings: Settings) -> Iterator[httpx2.Client]:
    with (
        live_service(settings) as address,
        httpx2.Client(base_url=address, headers={"Origin": address}, timeout=30) as client,
    ):
        yield client


def events(page: httpx2.Client, lay_id: str) -> Iterator[tuple[int, str, dict[str, Any]]]:
    with page.stream("GET", f"/api/lays/{lay_id}/events") as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        event: dict[str, str] = {}
        for line in answer.iter_lines():
            if not line and event:
                yield int(event["id"]), event["event"], json.loads(event["data"])
                event = {}
            elif line and not line.startswith(":"):
                name, _, value = line.partition(": ")
                event[name] = value


def begin(page: httpx2.Client, **request: Any) -> str:
    style = page.post("/api/styles", json=SEVERAL).json()
    answer = page.post("/api/lays", json={"style_id": style["id"], "cloths": SMALL, **request})
    assert answer.status_code == 202, answer.text
    return str(answer.json()["id"])


def test_improvements_come_in_order_and_end_with_the_state(page: httpx2.Client) -> None:
    lay_id = begin(page, steps=1500)
    told = list(events(page, lay_id))
    assert [number for number, _, _ in told] == sorted({number for number, _, _ in told})
    assert told[-1][1:] == ("state", {"state": "done", "error": None})
    results = [ClothResult.model_validate(data) for _, name, data in told if name == "cloth"]
    lengths = [r.length_mm for r in results]
    assert lengths == sorted(lengths, reverse=True)
    assert results[-1].searching is False
    assert page.get(f"/api/lays/{lay_id}").json()["cloths"][0]["length_mm"] == lengths[-1]


def test_a_page_that_comes_late_gets_the_full_state(page: httpx2.Client) -> None:
    lay_id = begin(page, steps=1)
    first = list(events(page, lay_id))
    again = list(events(page, lay_id))
    assert [name for _, name, _ in again] == ["cloth", "state"]
    assert again[0][2]["placements"] == first[-2][2]["placements"]
    assert again[0][0] > first[-1][0]


def test_stopping_ends_the_stream_within_a_round(page: httpx2.Client) -> None:
    lay_id = begin(page, seconds=120)
    told = []
    asked = False
    for _, name, data in events(page, lay_id):
        if name == "cloth" and not asked:
            asked = page.post(f"/api/lays/{lay_id}/stop").status_code == 200
        told.append((name, data))
    assert asked
    assert told[-1] == ("state", {"state": "stopped", "error": None})


def test_events_of_an_unknown_lay_are_an_error(page: httpx2.Client) -> None:
    answer = page.get("/api/lays/none/events")
    assert answer.status_code == 404
    assert answer.json()["error"]["code"] == "not_found"


def test_an_event_told_while_the_state_was_read_is_told_neither_late_nor_twice() -> None:
    """Found by a busy machine: an improvement with a number below the state's followed the state."""
    shortest = {"shell": 900.0}
    worse = Event(2, "cloth", {"cloth": "shell", "length_mm": 950.0})
    better = Event(7, "cloth", {"cloth": "shell", "length_mm": 880.0})
    first = Event(3, "cloth", {"cloth": "lining", "length_mm": 400.0})
    assert _is_older(worse, shortest)
    assert not _is_older(better, shortest)
    assert not _is_older(first, shortest)
    assert not _is_older(Event(9, "state", {"state": "done"}), shortest)
    assert shortest == {"shell": 880.0, "lining": 400.0}


def test_the_news_of_all_cuttings_begin_by_saying_that_they_listen(page: httpx2.Client) -> None:
    """``ready``: what was changed before has to be asked for (what comes after is asked for in the
    browser's tests). The stream has no end of its own; the page leaves it."""
    with page.stream("GET", "/api/cuttings/events") as answer:
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith("text/event-stream")
        lines = answer.iter_lines()
        told = [next(lines) for _ in range(3)]
    assert told[1:] == ["event: ready", "data: {}"]
