"""Checks before cutting as the pages see them: the board laid down again, and four marks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from calibration.again import OutlineRead, Relaid, lay_again
from calibration.boards import pattern
from calibration.marks import MarksRead, mark_places, read_marks, way_words
from calibration.residuals import SHORT_LIMIT_MM, Verdict
from calibration.table_map import TableMap
from service.camera import board_of, seen_out, seen_words
from service.detection import detect_in_photo, outline_in_photo
from service.errors import RefusedError
from service.schemas_camera import SeenWire
from service.schemas_checks import (
    AgainWish,
    MarkPlace,
    MarksView,
    MarksWish,
    OutlineWish,
)
from service.wishes import signed_mm

BOARD_AGAIN, MARKS = "board-again", "marks"
"""Names of these checks among the lines."""


@dataclass(frozen=True, slots=True)
class LaidAgain:
    """The board as the first photo shows it, and what was seen there."""

    relaid: Relaid
    seen: SeenWire
    words: list[str]


def look_again(data: bytes, table_map: TableMap, wish: AgainWish, *, where: str) -> LaidAgain:
    """Where the board now lies by this map. Raises CalibrationError with the reason and the way out.

    Blocks for as long as the detection takes: call it off the event loop.
    """
    thrown = pattern(table_map.canvas_px, hole_squares=wish.hole)
    board = board_of(wish.board)
    seen = detect_in_photo(data, board, thrown, where=where)
    relaid = lay_again(table_map, seen, board, thrown, where=where)
    return LaidAgain(relaid, seen_out(seen), seen_words(seen, wish.board, thrown))


def look_at_outline(data: bytes, wish: OutlineWish, *, where: str) -> OutlineRead:
    """How far the lit outline lies from the board. Blocks likewise."""
    return outline_in_photo(data, board_of(wish.board), turn_deg=wish.turn_deg, where=where)


def outline_words(read: OutlineRead) -> str:
    """Position, size and worst place in one sentence or two."""
    moved = way_words(*read.shift_mm)
    place = "In position it is true" if moved == "nowhere" else f"As a whole it lies {moved}"
    along, across = read.grown_mm
    return (
        f"{read.verdict.words} {place}; over the board's length it is {_too(along)}, over its width "
        f"{_too(across)}."
    )


def outline_finding(read: OutlineRead) -> dict[str, Any]:
    """What is kept of the closed loop."""
    return {
        **_judged("board laid down again", read.verdict),
        "words": outline_words(read),
        "right_mm": read.shift_mm[0],
        "away_mm": read.shift_mm[1],
        "turn_deg": read.turn_deg,
        "along_mm": read.grown_mm[0],
        "across_mm": read.grown_mm[1],
    }


def misfit_finding(misfit: Verdict) -> dict[str, Any]:
    """What is kept when the first photo alone contradicts the map."""
    return _judged("board laid down again", misfit)


def marks_of(table_map: TableMap, made: str | None) -> MarksView:
    """Where the marks are lit."""
    places = mark_places(table_map.canvas_px)
    at = table_map.to_table(list(places.values()))
    return MarksView(
        made=made,
        marks=[
            MarkPlace(name=name, canvas=px, at=(float(x), float(y)))
            for (name, px), (x, y) in zip(places.items(), at, strict=True)
        ],
    )


def marks_read(table_map: TableMap, made: str | None, wish: MarksWish) -> MarksRead:
    """What the offsets typed amount to. Raises RefusedError when the marks were never made, or one of
    them contradicts the other three and was not looked at twice."""
    if made is None:
        raise RefusedError(
            "no marks were made on the table for this map",
            code="marks.none",
            where="marks",
            hint="Check the map by its lines; then light the marks and chalk or tape them.",
        )
    offsets: dict[str, tuple[float, float]] = {}
    for offset in wish.offsets:
        if offset.mark in offsets:
            raise RefusedError(
                f"mark {offset.mark} was named twice",
                where=offset.mark,
                hint="Say of each mark once where its chalk lies.",
            )
        offsets[offset.mark] = (
            signed_mm(offset.right, f"mark {offset.mark}, to the right", unit=wish.unit),
            signed_mm(offset.away, f"mark {offset.mark}, away from you", unit=wish.unit),
        )
    read = read_marks({m.name: m.at for m in marks_of(table_map, made).marks}, offsets)
    if read.odd is not None and not wish.looked_twice:
        raise RefusedError(
            f"mark {read.odd} does not agree with the other three: by them it lies {read.odd_mm:.1f} mm "
            "from where it was read",
            code="marks.odd",
            where=read.odd,
            hint=f"Look at mark {read.odd} again, its right and left, near and far.",
        )
    return read


def marks_finding(read: MarksRead) -> dict[str, Any]:
    """What is kept of the quick look."""
    return {
        **_judged("four marks", read.verdict),
        "right_mm": read.shift_mm[0],
        "away_mm": read.shift_mm[1],
        "turn_deg": read.turn_deg,
        "left_mm": read.left_mm,
    }


def _judged(label: str, verdict: Verdict) -> dict[str, Any]:
    return {
        "label": label,
        "state": verdict.state,
        "limit_mm": verdict.limit_mm or SHORT_LIMIT_MM,
        "words": verdict.words,
    }


def _too(mm: float) -> str:
    return "right" if abs(mm) < 0.05 else f"{abs(mm):.1f} mm too {'long' if mm > 0 else 'short'}"
