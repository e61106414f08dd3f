"""Table maps as the pages see them: tape readings in, a map, its residuals and a verdict out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from calibration.coverage import coverage
from calibration.errors import TapeError
from calibration.homography import Array
from calibration.residuals import CheckLine, Verdict, check_lines, judge_length, judge_map, worst
from calibration.table_map import TableMap, from_dict
from calibration.tape import Cross, CrossSet, Distance, TapeResult, next_to_measure, solve
from calibration.thickness import (
    Above,
    above_light,
    largest_shift,
    left_over,
    on_cloth,
    plies_height,
    shift,
)
from calibration.verify import LineRead, growth, tie_scale
from nesting.units import parse_length
from service.errors import RefusedError
from service.schemas_maps import (
    CheckLineView,
    CheckView,
    CheckWish,
    ClothShift,
    ClothWish,
    CoverageView,
    MapDetail,
    MapWish,
    ResidualView,
    TapeView,
    TapeWish,
)
from service.store.tables import CheckRow, MapRow
from service.wishes import in_mm, signed_mm

ZONE_WORDS = {
    "good": "good to cut by",
    "warn": "nothing fitted here",
    "not for cutting": "not for cutting",
}

NEEDED = ("along", "across", "diagonal")
"""Ways that a check line must have been measured in before a map is called good."""


def try_tape(wish: TapeWish) -> TapeView:
    """What the distances say so far. Never refuses for want of distances: it says which to add."""
    crosses, distances = _tape_input(wish)
    wanted = next_to_measure(crosses, distances, wish.canvas)
    try:
        result = solve(crosses, distances, wish.canvas, sigma_mm=wish.tape_sigma_mm)
    except TapeError as error:
        if error.code not in ("tape.open", "tape.impossible"):
            raise
        return TapeView(
            settled=False,
            residuals=[],
            again=[_pair(error.where)] if error.code == "tape.impossible" else [],
            next=wanted,
            checks=0,
            p95_mm=None,
            words=[error.message, error.hint] if error.code == "tape.impossible" else [],
        )
    accuracy = result.table_map.accuracy
    return TapeView(
        settled=True,
        residuals=_residuals(result),
        again=list(result.again),
        next=wanted,
        checks=max(result.checks, 0),
        p95_mm=None if accuracy is None else accuracy.p95_mm,
        words=list(result.words),
    )


def map_by_tape(wish: MapWish) -> dict[str, Any]:
    """The data of a map to keep. Raises TapeError, or RefusedError naming the reading at fault."""
    crosses, distances = _tape_input(wish)
    result = solve(crosses, distances, wish.canvas, sigma_mm=wish.tape_sigma_mm)
    if result.again:
        first = "-".join(result.again[0])
        raise RefusedError(
            f"the distances do not agree: {first} is "
            f"{_off(result, result.again[0]):.1f} mm from what the others say",
            code="tape.odd",
            where=first,
            hint=" ".join(result.words) or f"Measure {first} again.",
        )
    return {
        "map": result.table_map.to_dict(),
        "dpr": wish.dpr,
        "screen": wish.screen,
        "crosses": {c.name: list(c.px) for c in crosses.crosses},
        "residuals": [r.model_dump(by_alias=True) for r in _residuals(result)],
        "words": list(result.words),
    }


def detail(row: MapRow, checks: Sequence[CheckRow]) -> MapDetail:
    """A kept map with its checks and the verdict that follows."""
    table_map = stored_map(row)
    judged = [(check, _judged(check)) for check in checks]
    verdict, text = _verdict(table_map, [c.line for c in checks], [v for _, v in judged])
    w, h = table_map.canvas_px
    corners = table_map.to_table([(0, h), (w, h), (w, 0), (0, 0)])
    accuracy = table_map.accuracy
    return MapDetail.model_validate(
        {
            "id": row.id,
            "name": row.name,
            "created": row.created,
            "route": row.route,
            "projector_from_table": table_map.projector_from_table.tolist(),
            "lens": row.data["map"]["lens"],
            "canvas": table_map.canvas_px,
            "dpr": row.data["dpr"],
            "screen": row.data["screen"],
            "residuals": row.data.get("residuals", []),
            "p95_mm": None if accuracy is None else accuracy.p95_mm,
            "accuracy": _accuracy(table_map),
            "trusted": None if table_map.trusted_mm is None else table_map.trusted_mm.tolist(),
            "words": row.data.get("words", []),
            "verdict": verdict,
            "verdict_text": text,
            "checks": [_check_view(check, v) for check, v in judged],
            "last_checked": max((check.when for check in checks), default=None),
            "marks_made": marks_made(row),
            "table_corners": corners.tolist(),
        }
    )


def _accuracy(table_map: TableMap) -> dict[str, Any] | None:
    known = table_map.accuracy
    if known is None:
        return None
    w, h = table_map.canvas_px
    corners = [(0.5, h - 0.5), (w - 0.5, h - 0.5), (w - 0.5, 0.5), (0.5, 0.5)]
    return {
        "rms_mm": known.rms_mm,
        "p95_mm": known.p95_mm,
        "max_mm": known.max_mm,
        "noise_ratio": known.noise_ratio,
        "mm_per_px": table_map.mm_per_px(corners).tolist(),
    }


def coverage_of(table_map: TableMap) -> CoverageView:
    """Where on the lit table the map may be cut by. Raises RefusedError for a map that was made
    before errors were kept by places."""
    found = coverage(table_map)
    if found is None:
        raise RefusedError(
            "nothing is known of how true this map is place by place",
            code="map.no_places",
            hint="Calibrate again: maps of before do not keep it.",
        )
    return CoverageView.model_validate(
        {
            "lit": table_map.lit_outline().tolist(),
            "zones": [
                {
                    "state": zone.state,
                    "words": ZONE_WORDS[zone.state],
                    "rings": [ring.tolist() for ring in zone.rings],
                    "label_at": zone.label_at,
                    "room_mm": zone.room_mm,
                    "hatch": [line.tolist() for line in zone.hatch],
                }
                for zone in found.zones
            ],
            "levels": [
                {"mm": level.mm, "lines": [line.tolist() for line in level.lines]}
                for level in found.levels
            ],
            "boards": [board.tolist() for board in found.boards],
            "share": found.share,
            "words": f"{100 * found.share:.0f} per cent of the light is good to cut by.",
        }
    )


def stored_map(row: MapRow) -> TableMap:
    """The table map of a row."""
    return from_dict(row.data["map"])


def marks_made(row: MapRow) -> str | None:
    """When the four marks were made on the table, or None."""
    made: str | None = row.data.get("marks", {}).get("made")
    return made


def lines_of(table_map: TableMap) -> list[CheckLineView]:
    """The check lines to light, the needed ones first."""
    lines = check_lines(table_map)
    needed = {_needed_name(lines, way) for way in NEEDED}
    views = [
        CheckLineView.model_validate(
            {
                "id": line_id(line),
                "label": line.name,
                "nominal_mm": line.length_mm,
                "from": line.start_mm,
                "to": line.end_mm,
                "needed": line.name in needed,
            }
        )
        for line in lines
    ]
    return sorted(views, key=lambda v: not v.needed)


def line_id(line: CheckLine) -> str:
    """``along-600``: stable as long as the same length is lit in the same direction."""
    return f"{line.direction.replace(' ', '-')}-{line.length_mm:.0f}"


def check_reading(
    table_map: TableMap, line: str, measured: str | float, unit: str
) -> tuple[float, float]:
    """(nominal, measured) mm of a check line's reading. Raises RefusedError for an unknown line or
    a reading that cannot be of that line at all (a tenth off: another unit, another line)."""
    lines = {line_id(found): found.length_mm for found in check_lines(table_map)}
    if line not in lines:
        raise RefusedError(
            f"there is no check line “{line}” on this map",
            hint=f"The lines are {', '.join(lines)}.",
            where="line",
        )
    nominal = lines[line]
    mm = parse_length(measured, unit=unit)
    if abs(mm - nominal) > 0.1 * nominal:
        raise RefusedError(
            f"the {nominal:.0f} mm line was said to measure {mm:.1f} mm",
            code="check.reading",
            hint="Look whether the reading is in the unit chosen and of the line that is lit. If it "
            "is right, the projector was moved: calibrate again.",
            where="measured",
        )
    return nominal, mm


def cloth_shift(row: MapRow, wish: ClothWish) -> ClothShift:
    """What cloth lying that high would do to the light, before a map for it is made."""
    table_map = stored_map(row)
    thickness, above = _cloth(table_map, wish)
    on_cloth(table_map, thickness, above)
    before, after = largest_shift(table_map, thickness, above), left_over(table_map, above)
    places = table_map.lit_outline()
    far = places[np.argmax(np.linalg.norm(shift(places, thickness, above), axis=1))]
    return ClothShift(
        before_mm=before,
        after_mm=after,
        words=f"On cloth {thickness:.1f} mm high the light would fall up to {before:.1f} mm off, "
        f"toward the point under the lens; most at {_whereabouts(table_map, far)}. With a map for "
        f"the cloth that is set right: if the height typed is 0.3 mm wrong, up to {after:.1f} mm "
        "stay.",
    )


def on_cloth_map(row: MapRow, wish: ClothWish) -> dict[str, Any]:
    """The data of a map for cloth lying higher than the table that was measured, its size told before
    and after. Raises MapError or UnitError, naming what cannot be."""
    table_map = stored_map(row)
    thickness, above = _cloth(table_map, wish)
    raised = on_cloth(table_map, thickness, above)
    before, after = largest_shift(table_map, thickness, above), left_over(table_map, above)
    return _changed(
        row,
        raised,
        f"For cloth {thickness:.1f} mm high: uncorrected the light would fall up to {before:.1f} mm "
        f"off; if the height is 0.3 mm wrong, up to {after:.1f} mm stay.",
    )


def tied_map(row: MapRow, wish: CheckWish) -> dict[str, Any]:
    """The data of a map whose scale is taken from one long line, measured by tape."""
    table_map = stored_map(row)
    nominal, measured = check_reading(table_map, wish.line, wish.measured, wish.unit)
    line = next(found for found in check_lines(table_map) if line_id(found) == wish.line)
    tied = tie_scale(table_map, LineRead(line, measured))
    share = 100 * (growth(table_map, tied) - 1)
    return _changed(
        row,
        tied,
        f"Scale taken from the {nominal:.0f} mm line, which measured {measured:.1f} mm: everything "
        f"is {abs(share):.3f} % {'larger' if share >= 0 else 'smaller'} than was thought.",
    )


def _cloth(table_map: TableMap, wish: ClothWish) -> tuple[float, Above]:
    unit = wish.unit
    ply = in_mm(wish.thickness, "thickness of one ply", unit=unit)
    above = above_light(
        table_map,
        right_mm=signed_mm(wish.along, "point under the lens, to the right", unit=unit),
        away_mm=signed_mm(wish.across, "point under the lens, away from you", unit=unit),
        height_mm=in_mm(wish.height, "height of the lens", unit=unit),
    )
    return plies_height(ply, wish.plies), above


def _whereabouts(table_map: TableMap, place: Array) -> str:
    """A corner of the light as the person at the near side calls it."""
    w, h = table_map.canvas_px
    x, y = table_map.to_projector(place[None, :])[0].tolist()
    return f"the {'near' if y > h / 2 else 'far'} {'right' if x > w / 2 else 'left'} corner"


def _changed(row: MapRow, table_map: TableMap, words: str) -> dict[str, Any]:
    # Lines that were measured belong to the map before: the new one is checked anew.
    return {**row.data, "map": table_map.to_dict(), "words": [*row.data.get("words", []), words]}


def _tape_input(wish: TapeWish) -> tuple[CrossSet, list[Distance]]:
    crosses = CrossSet(
        tuple(Cross(name, (float(x), float(y))) for name, (x, y) in wish.crosses.items()),
        origin=wish.origin,
        along=wish.along,
    )
    distances = [
        Distance(d.from_, d.to, _reading(f"{d.from_}-{d.to}", d.mm, wish.unit))
        for d in wish.distances
    ]
    return crosses, distances


def _reading(where: str, value: str | float, unit: str) -> float:
    text = value.strip() if isinstance(value, str) else value
    try:
        return parse_length(text, unit=unit)
    except Exception as error:
        raise RefusedError(
            f"{where}: {error}", code="tape.reading", where=where,
            hint="Write it as 1203.5, 120.35 cm or 47 3/8 in.",
        ) from error  # fmt: skip


def _residuals(result: TapeResult) -> list[ResidualView]:
    return [
        ResidualView.model_validate(
            {
                "from": r.distance.a,
                "to": r.distance.b,
                "typed_mm": r.distance.mm,
                "solved_mm": r.distance.mm - r.off_mm,
                "off_mm": None if r.standard is None else r.off_mm,
                "odd": r.odd,
            }
        )
        for r in result.readings
    ]


def _off(result: TapeResult, pair: tuple[str, str]) -> float:
    return next(abs(r.off_mm) for r in result.readings if (r.distance.a, r.distance.b) == pair)


def _pair(where: str) -> tuple[str, str]:
    a, _, b = where.partition("-")
    return a, b


def _verdict(
    table_map: TableMap, measured: Sequence[str], verdicts: Sequence[Verdict]
) -> tuple[str, str]:
    """What the measured lines say, for they are the better witness; until all needed ones are
    measured nothing is called good. A map that calls itself useless stays so."""
    own, checked = judge_map(table_map), _gravest(verdicts)
    if own.state == "not for cutting":
        return own.state, own.words
    if checked is not None and checked.state != "good":
        return checked.state, checked.words
    lines = check_lines(table_map)
    missing = [
        name
        for way in NEEDED
        if (name := _needed_name(lines, way)) and not _was_measured(way, measured)
    ]
    if missing or checked is None:
        by_camera = table_map.accuracy is not None and table_map.accuracy.method == "camera"
        alone = "the photographs" if by_camera else "the distances"
        return (
            "unchecked",
            f"Not checked yet: measure the line {', then '.join(missing)}. By {alone} alone "
            f"the lines are true to about {own.off_mm:.1f} mm.",
        )
    return "good", checked.words


def _judged(check: CheckRow) -> Verdict:
    """A line is judged by its lengths; anything else was judged when it was found."""
    if check.found is None:
        return judge_length(check.nominal_mm, check.measured_mm)
    found = check.found
    return Verdict(found["state"], check.measured_mm, found["limit_mm"], found["words"])


def _gravest(verdicts: Sequence[Verdict]) -> Verdict | None:
    """The worst of those that say the worst."""
    for state in ("not for cutting", "warn", "good"):
        if found := worst(v for v in verdicts if v.state == state):
            return found
    return None


def _needed_name(lines: Sequence[CheckLine], way: str) -> str | None:
    """The 600 mm line of a direction, or the longest that can be lit there."""
    names = {line.length_mm: line.name for line in lines if line.direction == way}
    return names.get(600.0) or (names[max(names)] if names else None)


def _was_measured(way: str, measured: Sequence[str]) -> bool:
    return any(line.rpartition("-")[0] == way for line in measured)


def _check_view(check: CheckRow, verdict: Verdict) -> CheckView:
    way, _, length = check.line.rpartition("-")
    label = f"{length} mm {way.replace('-', ' ')}"
    return CheckView(
        line=check.line,
        label=label if check.found is None else check.found["label"],
        nominal_mm=check.nominal_mm,
        measured_mm=check.measured_mm,
        off_mm=verdict.off_mm,
        verdict=verdict.state,
        words=verdict.words,
        when=check.when,
    )
