"""Table maps: made from tape readings, checked by measured lines, put in use; and the projection."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from sqlalchemy.orm import Session

from service import maps
from service.cutting import layout_key
from service.projection import Projection, project
from service.schemas_maps import (
    CheckLines,
    CheckWish,
    ClothShift,
    ClothWish,
    CoverageView,
    MapDetail,
    MapList,
    MapWish,
    ProjectionView,
    TapeView,
    TapeWish,
)
from service.store import cuttings
from service.store import maps as store
from service.store.database import Database
from service.store.lays import get_lay
from service.store.tables import LayRow, MapRow

router = APIRouter(prefix="/api", tags=["table"])


@router.post("/maps/try")
def try_readings(wish: TapeWish) -> TapeView:
    """What the distances typed so far say, without keeping anything."""
    return maps.try_tape(wish)


@router.post("/maps", status_code=201)
def add(wish: MapWish, request: Request) -> MapDetail:
    """Keep a map and put it in use. Readings that do not agree are refused, the odd one named."""
    return keep_map(request, wish.name or "table", "tape", maps.map_by_tape(wish))


@router.get("/maps")
def all_maps(request: Request) -> MapList:
    """All maps, the one in use first."""
    with _database(request).reading() as session:
        return MapList(maps=[_detail(session, row) for row in store.list_maps(session)])


@router.get("/maps/current")
def current(request: Request) -> MapDetail:
    """The map in use."""
    with _database(request).reading() as session:
        return _detail(session, store.current_map(session))


@router.post("/maps/{map_id}/use")
def use(map_id: str, request: Request) -> MapDetail:
    """Put a map in use."""
    with _database(request).writing() as session:
        return _detail(session, store.use_map(session, map_id))


@router.delete("/maps/{map_id}", status_code=204)
def delete(map_id: str, request: Request) -> None:
    """Throw a map away."""
    with _database(request).writing() as session:
        store.delete_map(session, map_id)


@router.get("/maps/{map_id}/check-lines")
def check_lines(map_id: str, request: Request) -> CheckLines:
    """Lines of known length to light and measure."""
    with _database(request).reading() as session:
        table_map = maps.stored_map(store.get_map(session, map_id))
    return CheckLines(lines=maps.lines_of(table_map))


@router.get("/maps/{map_id}/coverage")
def coverage(map_id: str, request: Request) -> CoverageView:
    """The lit table parted by how true the map is there."""
    with _database(request).reading() as session:
        table_map = maps.stored_map(store.get_map(session, map_id))
    return maps.coverage_of(table_map)


@router.post("/maps/{map_id}/checks")
def add_check(map_id: str, wish: CheckWish, request: Request) -> MapDetail:
    """Keep what a check line measured; the answer has the verdict that follows."""
    with _database(request).writing() as session:
        row = store.get_map(session, map_id)
        nominal, measured = maps.check_reading(
            maps.stored_map(row), wish.line, wish.measured, wish.unit
        )
        store.add_check(session, map_id, wish.line, nominal_mm=nominal, measured_mm=measured)
        return _detail(session, row)


@router.post("/maps/{map_id}/on-cloth/shift")
def cloth_shift(map_id: str, wish: ClothWish, request: Request) -> ClothShift:
    """How far off the light would fall on cloth that lies higher. Keeps nothing."""
    with _database(request).reading() as session:
        return maps.cloth_shift(store.get_map(session, map_id), wish)


@router.post("/maps/{map_id}/on-cloth", status_code=201)
def raise_to_cloth(map_id: str, wish: ClothWish, request: Request) -> MapDetail:
    """Make a new map for cloth that lies higher than what was measured on, and put it in use."""
    with _database(request).writing() as session:
        row = store.get_map(session, map_id)
        data = maps.on_cloth_map(row, wish)
        return _detail(session, store.add_map(session, f"{row.name}, on cloth", row.route, data))


@router.post("/maps/{map_id}/tied", status_code=201)
def tie(map_id: str, wish: CheckWish, request: Request) -> MapDetail:
    """Make a new map with its scale taken from one long line measured by tape, and put it in use."""
    with _database(request).writing() as session:
        row = store.get_map(session, map_id)
        data = maps.tied_map(row, wish)
        return _detail(session, store.add_map(session, f"{row.name}, tied", row.route, data))


@router.get("/lays/{lay_id}/projection")
def projection(
    lay_id: str,
    request: Request,
    cloth: str = "shell",
    map_id: Annotated[str | None, Query(alias="map")] = None,
) -> ProjectionView:
    """A layout brought to the table through a map (the one in use unless told)."""
    with _database(request).reading() as session:
        lay = get_lay(session, lay_id)
        layout = cuttings.layout_of(session, lay_id, cloth)
        row = store.get_map(session, map_id) if map_id else store.current_map(session)
        shown = project(layout, maps.stored_map(row))
        return _view(lay, cloth, layout, shown, _detail(session, row))


def keep_map(request: Request, name: str, route: str, data: dict[str, Any]) -> MapDetail:
    """Keep a new map, put it in use, and say what is known of it."""
    with _database(request).writing() as session:
        return _detail(session, store.add_map(session, name, route, data))


def _view(
    lay: LayRow, cloth: str, result: dict[str, object], shown: Projection, of_map: MapDetail
) -> ProjectionView:
    pieces = []
    for piece in shown.pieces:
        fields = asdict(piece)
        placement = fields.pop("placement")
        lines = ("hands", "cut_line", "net_line", "grain", "grain_rule", "notches", "marks")
        pieces.append({**fields, **{name: placement[name] for name in lines}})
    return ProjectionView.model_validate(
        {
            "lay_id": lay.id,
            "style": lay.style,
            "cloth": cloth,
            "layout": layout_key(result),
            "fold": result["fold"],
            "map": of_map.model_dump(by_alias=True),
            "room": shown.room,
            "strip": shown.strip,
            "spreads": [asdict(s) for s in shown.spreads],
            "windows": [asdict(w) for w in shown.windows],
            "pieces": pieces,
            "order": shown.order,
            "steps_text": result.get("steps_text", []),
        }
    )


def _detail(session: Session, row: MapRow) -> MapDetail:
    return maps.detail(row, store.checks_of(session, row.id))


def _database(request: Request) -> Database:
    database: Database = request.app.state.database
    return database
