"""``grainfold cut`` and ``grainfold estimate --out``: the files that come out."""

from __future__ import annotations

import io
import json
from pathlib import Path
from xml.etree import ElementTree

import pypdfium2
import pytest
from ezdxf import recover

from service import cli
from service.formats.reading import read_bytes
from service.formats.writing import file_name
from tests.service.sheets import APRON


def run(*arguments: str | Path) -> int:
    try:
        cli.main([str(a) for a in arguments])
    except SystemExit as ended:
        return int(ended.code or 0)
    return 0


@pytest.fixture
def apron(tmp_path: Path) -> Path:
    file = tmp_path / "apron.json"
    file.write_text(json.dumps(APRON))
    return file


def test_cut_writes_every_piece_and_all_together(
    apron: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "new" / "cut"
    assert run("cut", apron, "--out", out) == 0
    said = {Path(line).name for line in capsys.readouterr().out.split("\n") if line}
    names = [p["name"] for p in APRON["pieces"]]
    base = file_name(APRON["style"])
    assert said == {f.name for f in out.iterdir()}
    assert said == {
        f"{base}.svg",
        f"{base}.dxf",
        f"{base}-A4.pdf",
        *(f"{base}-{file_name(n)}.svg" for n in names),
    }
    again, _ = read_bytes((out / f"{base}.svg").read_bytes(), name="a.svg", guard=False)
    assert {p.name for p in again.pieces} == set(names)
    _, auditor = recover.read(io.BytesIO((out / f"{base}.dxf").read_bytes()))
    assert not auditor.errors


@pytest.mark.parametrize("kind", ["svg", "pdf", "dxf"])
def test_a_lay_sheet_for_every_cloth(
    apron: Path, tmp_path: Path, kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / f"plan.{kind}"
    assert run("estimate", apron, "--steps", "0", "--json", "--out", out) == 0
    cloths = json.loads(capsys.readouterr().out)["cloths"]
    placed = sum(len(c["placements"]) for c in cloths)
    data = out.read_bytes()
    if kind == "svg":
        root = ElementTree.fromstring(data)
        cut = [e for e in root.iter() if e.get("class") == "cut"]
        assert len(cut) == placed
    elif kind == "pdf":
        document = pypdfium2.PdfDocument(data)
        text = "".join(page.get_textpage().get_text_range() for page in document)
        document.close()
        assert all(f"Buy {c['buy_text']}" in text for c in cloths)
    else:
        document, auditor = recover.read(io.BytesIO(data))
        assert not auditor.errors
        assert len(document.modelspace().query("LWPOLYLINE[layer=='CUT']")) == placed


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("estimate", "APRON", "--steps", "0", "--out", "plan.odt"), "names no kind of drawing"),
        (("estimate", "APRON", "--steps", "0", "--out", "nowhere/plan.svg"), "cannot be written"),
        (("cut", "APRON", "--out", "APRON"), "cannot be written to"),
        (("cut", "APRON", "--out", "OUT", "--page", "A9"), "not a page size"),
        (("cut", "missing.svg", "--out", "OUT"), "cannot be opened"),
    ],
)
def test_what_cannot_be_written_is_told_in_one_line(
    apron: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...],
    says: str,
) -> None:
    named = {"APRON": apron, "OUT": tmp_path / "out"}
    assert run(*(named.get(a, a) for a in arguments)) == 1
    shown = capsys.readouterr()
    assert shown.out == ""
    assert says in shown.err
    assert shown.err.count("\n") == 1


def test_file_names_are_plain() -> None:
    assert file_name("Jerkin of the page / 2") == "Jerkin-of-the-page-2"
    assert file_name("../../etc") == "etc"
    assert file_name("***") == "pieces"
