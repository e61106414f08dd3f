"""``grainfold estimate``: from files to cloth to buy, without the service."""

from __future__ import annotations

import json
import re
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from nesting.answer import Answer
from nesting.pieces.piece import Style
from service.errors import RefusedError, WriteError
from service.formats.writing import buy_line, drawing_kind, lay_file
from service.kernels import keep_compiled_in
from service.schemas import ClothRequest, LayRequest
from service.settings import default_data_dir
from service.sources import read_sources

DEFAULT_SECONDS = 10.0


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the command line asks."""

    sources: list[Path]
    cloth: dict[str, Any]
    only: str | None
    copies: int
    gap: str
    seconds: float | None
    steps: int | None
    seed: int
    workers: int
    as_json: bool
    out: Path | None
    unit: str | None


def run_estimate(wanted: Wanted) -> None:
    """Read, search, print. Raises NestingError or ServiceError for what cannot be done."""
    _check(wanted)
    style = _chosen(read_sources(wanted.sources, unit=wanted.unit)[0], wanted.only)
    request = _request(wanted, style)
    started = time.perf_counter()
    cloths, steps, answers = _search(style, request, wanted)
    answer = {
        "style": style.name,
        "seed": wanted.seed,
        "seconds": round(time.perf_counter() - started, 3),
        "steps": steps,
        "cloths": cloths,
    }
    if wanted.out is not None:
        _write(answers, style, wanted.out)
    if wanted.as_json:
        print(json.dumps(answer, ensure_ascii=False))
    else:
        print(in_words(answer))


def in_words(answer: dict[str, Any]) -> str:
    """The answer as a few lines for a terminal."""
    lines = [f"{answer['style']}:"]
    for cloth in answer["cloths"]:
        price = "" if cloth["price"] is None else f", {cloth['currency']} {cloth['price']:.2f}"
        lines.append(f"  {cloth['cloth']}, {cloth['fold']}: buy {cloth['buy_text']}{price}")
        lines += [f"    {term['mm']:9.1f} mm  {term['label']}" for term in cloth["terms"]]
        lines.append(
            f"    {cloth['utilisation']:.0%} of the cloth is used; no layout can be shorter than "
            f"{cloth['floor_mm']:.0f} mm"
        )
        if cloth["fits_text"]:
            lines.append(f"    {cloth['fits_text']}")
        lines += [f"    {f['level']}: {f['message']}. {f['hint']}" for f in cloth["findings"]]
    return "\n".join(lines)


def spot_of(text: str, option: str) -> dict[str, str]:
    """``80-95cm,20-30cm`` as the fields of a spot: from-to along, and across if it does not reach from
    selvedge to selvedge. A unit behind the second length counts for the first one, too.

    Raises RefusedError naming the option.
    """
    parts = [p.strip() for p in text.split(",")]
    spans = [_RANGE.fullmatch(p) for p in parts]
    if len(parts) > 2 or not all(spans):
        raise RefusedError(
            f"{option} “{text}” is not a stretch of cloth",
            hint="Write from-to along the selvedge, and across if it is less than the whole width: "
            "80-95cm or 80-95cm,20-30cm.",
            where=option,
        )
    fields = {}
    for axis, span in zip(("along", "across"), spans, strict=False):
        assert span is not None
        low, low_unit, high, high_unit = (g or "" for g in span.groups())
        fields[f"{axis}_from"] = low + (low_unit or high_unit)
        fields[f"{axis}_to"] = high + high_unit
    return fields


_RANGE = re.compile(r"([\d.]+) ?([a-z]*) ?- ?([\d.]+) ?([a-z]*)")


def _check(wanted: Wanted) -> None:
    if wanted.seconds is not None and wanted.steps is not None:
        raise RefusedError(
            "give either --seconds or --steps", hint="Steps repeat exactly.", where="--steps"
        )
    if wanted.out is not None:
        drawing_kind(wanted.out.name)


def _chosen(style: Style, only: str | None) -> Style:
    if only is None:
        return style
    if only not in style.cloths:
        raise RefusedError(
            f"{style.name} has no pieces for the cloth “{only}”",
            hint=f"Its cloths are: {', '.join(style.cloths)}.",
            where="--cloth",
        )
    return Style(style.name, tuple(p for p in style.pieces if p.cloth == only), style.note)


def _request(wanted: Wanted, style: Style) -> LayRequest:
    unit = "yd" if "y" in str(wanted.cloth["step"]).lower() else "m"
    cloth = ClothRequest(**wanted.cloth, unit=unit)
    try:
        return LayRequest(
            style_id="",
            copies=wanted.copies,
            gap_mm=wanted.gap,
            seconds=wanted.seconds,
            steps=wanted.steps,
            seed=wanted.seed,
            workers=wanted.workers,
            cloths=dict.fromkeys(style.cloths, cloth),
        )
    except ValidationError as error:
        first = error.errors()[0]
        name = f"--{first['loc'][-1]}"
        raise RefusedError(
            f"{name}: {first['msg'][:1].lower()}{first['msg'][1:]}, got {first['input']}",
            where=name,
        ) from error


def _search(
    style: Style, request: LayRequest, wanted: Wanted
) -> tuple[list[dict[str, Any]], int, list[Answer]]:
    # Imported late: what is wrong with the files is said before the engine is loaded, and where
    # compiled kernels are kept must be settled before that.
    keep_compiled_in(default_data_dir())
    from service import pipeline
    from service.owned import lay_on_owned, with_held
    from service.pool import InProcess, Runner, WorkerPool
    from service.rounds import Search, cloth_json, prepare
    from service.wishes import wishes_of

    cut = pipeline.cut_style(style)
    pool = WorkerPool(wanted.workers) if wanted.workers > 1 else None
    runner: Runner = pool or InProcess()
    try:
        search = Search(cut, wishes_of(request, style), seed=wanted.seed, runner=runner)
        search.begin(_silent)
        if wanted.seconds == 0 or wanted.steps == 0:
            lay_on_owned(search)
        else:
            seconds = DEFAULT_SECONDS if wanted.seconds is None else wanted.seconds
            if not all(c.finished for c in search.cloths):
                prepare(runner)
                search.run(_progress(), seconds=seconds, steps=wanted.steps)
            lay_on_owned(search, seconds=seconds, steps=wanted.steps)
        found = [c.best.answer for c in search.cloths]
        cloths = [with_held(cloth_json(c, searching=False), c) for c in search.cloths]
        return cloths, search.steps, [a for a in found if a is not None]
    finally:
        if pool is not None:
            pool.close()


def _silent(*_: object) -> None:
    """Nothing to tell."""


def _progress() -> Callable[[Any, Any], None]:
    """Tells improvements on a terminal, on stderr so that the answer stays clean."""
    if not sys.stderr.isatty():
        return _silent

    def told(_search: Any, cloth: Any) -> None:
        print(f"  {cloth.role}: {cloth.best.length_mm:.0f} mm", file=sys.stderr)

    return told


def _write(answers: list[Answer], style: Style, out: Path) -> None:
    laid = [(a.layout, buy_line(a.layout, a.estimate.buy_text)) for a in answers]
    data = lay_file(laid, style=style.name, kind=drawing_kind(out.name))
    try:
        out.write_bytes(data)
    except OSError as error:
        raise WriteError(
            f"{out} cannot be written: {(error.strerror or str(error)).lower()}",
            where=str(out),
            hint="Name a file in a directory that you may write in.",
        ) from error
