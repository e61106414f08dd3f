"""What ``grainfold map`` does with a map once it is made: scale tied, raised to the cloth, checked.

The order is that of the options on the page: one long line ties the scale, then the map is raised to
the cloth; lines measured and the board laid down again are checks of the map that results.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from calibration.again import OutlineRead, Relaid, lay_again, outline_png
from calibration.boards import Board, Pattern
from calibration.residuals import CheckLine, check_lines
from calibration.table_map import TableMap
from calibration.thickness import above_light, largest_shift, left_over, on_cloth, plies_height
from calibration.verify import LineRead, growth, tie_scale, verify_by_tape
from service.detection import detect_in_photo, outline_in_photo
from service.errors import RefusedError
from service.map_checks import outline_words
from service.maps import line_id
from service.photo_file import read_photo, write_picture
from service.wishes import in_mm, signed_mm


@dataclass(frozen=True, slots=True)
class FollowUp:
    """Options of the command line beyond the photos of the map, as they were typed."""

    lines: tuple[str, ...] = ()
    tie: str | None = None
    ply: str | None = None
    plies: int = 1
    lens_height: str | None = None
    lens_at: str | None = None
    again: Path | None = None
    outline: Path | None = None
    lit: Path | None = None

    @property
    def asked(self) -> bool:
        """Is anything asked for?"""
        return self != FollowUp()


def follow_up(
    table_map: TableMap, wish: FollowUp, board: Board, thrown: Pattern
) -> tuple[TableMap, dict[str, Any]]:
    """The map that results, and what is to be told beside it. Raises RefusedError or CalibrationError
    naming the option or the photo."""
    _refuse_halves(wish)
    told: dict[str, Any] = {}
    if wish.tie is not None:
        read = _line_read(table_map, wish.tie, "--tie")
        before, table_map = table_map, tie_scale(table_map, read)
        told["tied"] = {
            "line": line_id(read.line),
            "nominal_mm": read.line.length_mm,
            "measured_mm": read.measured_mm,
            "larger_by": growth(before, table_map) - 1,
        }
    if wish.ply is not None:
        table_map, told["cloth"] = _raised(table_map, wish)
    told["check_lines"] = [
        {
            "id": line_id(line),
            "nominal_mm": line.length_mm,
            "from": list(line.start_mm),
            "to": list(line.end_mm),
        }
        for line in check_lines(table_map)
    ]
    if wish.lines:
        reads = [_line_read(table_map, text, "--line") for text in wish.lines]
        verified = verify_by_tape(table_map, reads)
        table_map = verified.table_map
        told["checks"] = [
            {
                "line": line_id(read.line),
                "nominal_mm": read.line.length_mm,
                "measured_mm": read.measured_mm,
                "off_mm": verdict.off_mm,
                "verdict": verdict.state,
                "words": verdict.words,
            }
            for read, verdict in zip(reads, verified.verdicts, strict=True)
        ]
    if wish.again is not None:
        told["board_again"] = _board_again(table_map, wish, board, thrown)
    return table_map, told


def _refuse_halves(wish: FollowUp) -> None:
    for name, path in (("--outline", wish.outline), ("--lit", wish.lit)):
        if path is not None and wish.again is None:
            raise RefusedError(
                f"{name} needs the photo of the board laid down again",
                where=name,
                hint="Name it with --again: the board in its new place, the pattern lit.",
            )
    cloth = (wish.ply, wish.lens_height, wish.lens_at)
    if any(cloth) and not all(cloth):
        missing = [
            name
            for name, said in zip(("--ply", "--lens-height", "--lens-at"), cloth, strict=True)
            if said is None
        ]
        raise RefusedError(
            f"to raise the map to the cloth, {' and '.join(missing)} is wanted too",
            where=missing[0],
            hint="Thickness of a ply, height of the lens over the table, and the point under the lens "
            "from the near left corner of the light: --ply 2.5 --lens-height 1850 --lens-at 600:350.",
        )


def _raised(table_map: TableMap, wish: FollowUp) -> tuple[TableMap, dict[str, Any]]:
    right, _, away = (wish.lens_at or "").partition(":")
    if not away:
        raise RefusedError(
            f"--lens-at wants two lengths, to the right and away; “{wish.lens_at}” came",
            where="--lens-at",
            hint="Write --lens-at 600:350; a minus before a length means left or towards you.",
        )
    thickness = plies_height(in_mm(wish.ply or "", "--ply"), wish.plies)
    above = above_light(
        table_map,
        right_mm=signed_mm(right, "--lens-at"),
        away_mm=signed_mm(away, "--lens-at"),
        height_mm=in_mm(wish.lens_height or "", "--lens-height"),
    )
    return on_cloth(table_map, thickness, above), {
        "thickness_mm": thickness,
        "shift_before_mm": largest_shift(table_map, thickness, above),
        "left_if_0_3_mm_wrong_mm": left_over(table_map, above),
    }


def _line_read(table_map: TableMap, text: str, option: str) -> LineRead:
    """A check line and its reading, from `along-600:600.4`."""
    name, _, measured = text.partition(":")
    lines: dict[str, CheckLine] = {line_id(line): line for line in check_lines(table_map)}
    if name.strip() not in lines or not measured:
        raise RefusedError(
            f"{option} wants a check line and what it measures; “{text}” came",
            where=option,
            hint=f"Write {option} NAME:LENGTH, such as {next(iter(lines), 'along-600')}:600.4. The "
            f"lines are {', '.join(lines)}.",
        )
    return LineRead(lines[name.strip()], in_mm(measured, f"{option} {name.strip()}"))


def _board_again(
    table_map: TableMap, wish: FollowUp, board: Board, thrown: Pattern
) -> dict[str, Any]:
    assert wish.again is not None
    name = wish.again.name
    seen = detect_in_photo(read_photo(wish.again), board, thrown, where=name)
    relaid = lay_again(table_map, seen, board, thrown, where=name)
    told: dict[str, Any] = {
        "photo": name,
        "turn_deg": relaid.turn_deg,
        "bands_mm": relaid.bands_mm.tolist(),
        "misfit_mm": relaid.misfit.off_mm,
        "verdict": relaid.misfit.state,
        "words": relaid.misfit.words,
    }
    if wish.outline is not None:
        write_picture(wish.outline, outline_png(table_map, relaid.bands_mm))
        told["outline"] = str(wish.outline)
    if wish.lit is not None:
        told["lit"] = _lit(wish.lit, board, relaid)
    return told


def _lit(photo: Path, board: Board, relaid: Relaid) -> dict[str, Any]:
    read: OutlineRead = outline_in_photo(
        read_photo(photo), board, turn_deg=relaid.turn_deg, where=photo.name
    )
    return {
        "photo": photo.name,
        "right_mm": read.shift_mm[0],
        "away_mm": read.shift_mm[1],
        "turn_deg": read.turn_deg,
        "along_mm": read.grown_mm[0],
        "across_mm": read.grown_mm[1],
        "worst_mm": read.worst_mm,
        "where": read.worst_side,
        "samples": read.samples,
        "verdict": read.verdict.state,
        "words": outline_words(read),
    }
