"""Checks of a map before cutting: the board laid down again in two photos, and four marks."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool

from service import map_checks, maps
from service.routes.photo_form import photo_body, posted_photo
from service.schemas_checks import (
    AgainWish,
    MarksFound,
    MarksView,
    MarksWish,
    OutlineView,
    OutlineWish,
    RelaidView,
)
from service.schemas_maps import MapDetail
from service.store import maps as store
from service.store.database import Database

router = APIRouter(prefix="/api/maps/{map_id}", tags=["table"])


@router.post("/board-again", response_model=RelaidView, openapi_extra=photo_body("AgainWish"))
async def lay_again(map_id: str, request: Request) -> RelaidView:
    """Where the board laid down again lies by this map, and the outline to light round it.

    A photo that already contradicts the map is kept as a check; a sound one waits for the second.
    """
    data, name, wish = await posted_photo(request, AgainWish)
    return await run_in_threadpool(_lay_again, request, map_id, data, name, wish)


@router.post(
    "/board-again/outline", response_model=OutlineView, openapi_extra=photo_body("OutlineWish")
)
async def measure_outline(map_id: str, request: Request) -> OutlineView:
    """How far the lit outline fell from where it was meant; kept as a check of the map."""
    data, name, wish = await posted_photo(request, OutlineWish)
    return await run_in_threadpool(_measure_outline, request, map_id, data, name, wish)


@router.get("/marks")
def marks(map_id: str, request: Request) -> MarksView:
    """The four marks: where they are lit, and when they were made on the table."""
    with _database(request).reading() as session:
        row = store.get_map(session, map_id)
        return map_checks.marks_of(maps.stored_map(row), maps.marks_made(row))


@router.post("/marks")
def marks_were_made(map_id: str, request: Request) -> MarksView:
    """Note that the marks were chalked or taped just now, under their light."""
    with _database(request).writing() as session:
        row = store.keep_marks(session, map_id)
        return map_checks.marks_of(maps.stored_map(row), maps.marks_made(row))


@router.post("/marks/check")
def check_marks(map_id: str, wish: MarksWish, request: Request) -> MarksFound:
    """Keep what the marks say. A shift is told and judged; the map stays as it is."""
    with _database(request).writing() as session:
        row = store.get_map(session, map_id)
        read = map_checks.marks_read(maps.stored_map(row), maps.marks_made(row), wish)
        store.add_finding(
            session, map_id, map_checks.MARKS,
            off_mm=read.verdict.off_mm, found=map_checks.marks_finding(read),
        )  # fmt: skip
        return MarksFound(
            right_mm=read.shift_mm[0],
            away_mm=read.shift_mm[1],
            turn_deg=read.turn_deg,
            left_mm=read.left_mm,
            worst_mm=read.worst_mm,
            verdict=read.verdict.state,
            words=read.verdict.words,
            map=maps.detail(row, store.checks_of(session, map_id)),
        )


def _lay_again(
    request: Request, map_id: str, data: bytes, name: str, wish: AgainWish
) -> RelaidView:
    with _database(request).reading() as session:
        table_map = maps.stored_map(store.get_map(session, map_id))
    found = map_checks.look_again(data, table_map, wish, where=name)
    misfit = found.relaid.misfit
    if misfit.state != "good":
        with _database(request).writing() as session:
            store.add_finding(
                session, map_id, map_checks.BOARD_AGAIN,
                off_mm=misfit.off_mm, found=map_checks.misfit_finding(misfit),
            )  # fmt: skip
    return RelaidView(
        turn_deg=found.relaid.turn_deg,
        bands=[[(float(x), float(y)) for x, y in band] for band in found.relaid.bands_mm],
        misfit_mm=misfit.off_mm,
        verdict=misfit.state,
        words=[*found.words, misfit.words],
        seen=found.seen,
    )


def _measure_outline(
    request: Request, map_id: str, data: bytes, name: str, wish: OutlineWish
) -> OutlineView:
    with _database(request).reading() as session:
        store.get_map(session, map_id)
    read = map_checks.look_at_outline(data, wish, where=name)
    with _database(request).writing() as session:
        row = store.get_map(session, map_id)
        store.add_finding(
            session, map_id, map_checks.BOARD_AGAIN,
            off_mm=read.worst_mm, found=map_checks.outline_finding(read),
        )  # fmt: skip
        detail: MapDetail = maps.detail(row, store.checks_of(session, map_id))
    return OutlineView(
        right_mm=read.shift_mm[0],
        away_mm=read.shift_mm[1],
        turn_deg=read.turn_deg,
        along_mm=read.grown_mm[0],
        across_mm=read.grown_mm[1],
        worst_mm=read.worst_mm,
        where=read.worst_side,
        samples=read.samples,
        verdict=read.verdict.state,
        words=map_checks.outline_words(read),
        map=detail,
    )


def _database(request: Request) -> Database:
    database: Database = request.app.state.database
    return database
