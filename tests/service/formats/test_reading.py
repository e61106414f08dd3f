"""What a file is, and the guard around its reader."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import pytest

from service.errors import FormatError, TimeUpError, UnknownTypeError
from service.formats.guarded import run_guarded
from service.formats.reading import FileType, file_type, read_bytes
from tests.service.formats import hungry

SVG = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">'
    b'<g id="Front_x3B__pair"><path id="net" d="M0 0h50v80z"/></g></svg>'
)
SHEET = (
    b'{"format": "grainfold piece sheet", "version": 1, "unit": "cm", "style": "S",'
    b'"pieces": [{"name": "Tie", "outline": {"rectangle": {"width": 4, "length": 90}}}]}'
)


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (SHEET, FileType.PIECE_SHEET),
        (b"\xef\xbb\xbf\n " + SHEET, FileType.PIECE_SHEET),
        (SVG, FileType.SVG),
        (b"\xef\xbb\xbf<?xml version='1.0'?>" + SVG, FileType.SVG),
        (SVG.decode().encode("utf-16"), FileType.SVG),
        (b"  0\nSECTION\n  2\nHEADER\n", FileType.DXF),
        (b"%PDF-1.7\n", FileType.PDF),
        (b"999\nmade by hand\n0\r\nSECTION\r\n", FileType.DXF),
    ],
)
def test_a_file_is_known_by_its_content(data: bytes, kind: FileType) -> None:
    assert file_type(data, name="any.bin") is kind


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"\x89PNG\r\n\x1a\n", "is a picture"),
        (b"PK\x03\x04", "is an archive"),
        (b"\x1f\x8b\x08", "is compressed"),
        (b"AutoCAD Binary DXF\r\n", "a binary DXF"),
        (b"Front 62 cm", "neither a piece sheet"),
        (bytes(range(256)), "neither a piece sheet"),
    ],
)
def test_what_is_not_read_is_told_with_the_way_out(data: bytes, words: str) -> None:
    with pytest.raises(UnknownTypeError, match=words) as caught:
        file_type(data, name="front")
    assert caught.value.hint


@pytest.mark.parametrize("data", [b"", b" \n\t", b"\x00\x00\x00"])
def test_an_empty_file_is_told(data: bytes) -> None:
    with pytest.raises(FormatError, match=r"front\.svg is empty"):
        file_type(data, name="front.svg")


def test_a_drawing_is_read_in_a_process_of_its_own() -> None:
    style, findings = read_bytes(SVG, name="front.svg")
    assert style.pieces[0].name == "Front"
    assert not style.pieces[0].edges[0].points.flags.writeable
    assert "size" in {f.code for f in findings}
    with pytest.raises(FormatError) as caught:
        read_bytes(SVG.replace(b"pair", b"pari"), name="front.svg")
    assert caught.value.problems[0].where == "Front; pari"


def test_a_sheet_is_read_by_the_same_door() -> None:
    style, _ = read_bytes(SHEET, name="tie.json")
    assert style.pieces[0].name == "Tie"


def test_the_guard_gives_the_answer_and_our_own_errors() -> None:
    assert run_guarded(hungry.double, 21, source="x") == 42
    with pytest.raises(FormatError) as caught:
        run_guarded(hungry.refuse, source="x")
    assert (caught.value.hint, caught.value.where) == ("h", "w")


def test_the_guard_ends_what_takes_too_long(tmp_path: Path) -> None:
    note = tmp_path / "pid"
    with pytest.raises(TimeUpError, match="not read within 5 seconds"):
        run_guarded(hungry.sleep_long, str(note), source="slow.svg", seconds=5)
    pid = int(note.read_text())
    for _ in range(50):
        if not _alive(pid):
            break
        time.sleep(0.1)
    assert not _alive(pid)


def _alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


@pytest.mark.parametrize("task", [hungry.die] + ([] if sys.platform == "win32" else [hungry.eat]))
def test_the_guard_outlives_a_dead_reader(task: object) -> None:
    with pytest.raises(TimeUpError, match="more memory"):
        run_guarded(task, source="big.svg", memory_bytes=1_000_000_000)  # type: ignore[arg-type]


def test_a_fault_in_a_parser_is_told_without_a_trace() -> None:
    with pytest.raises(FormatError, match="does not understand") as caught:
        run_guarded(hungry.fault, source="odd.svg")
    assert "Traceback" not in caught.value.message
