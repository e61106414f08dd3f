"""Labelled lines of a drawing to the pieces of a style: the convention itself, whatever file it was.

Lines come in mm, y up. The convention is told to people by ``svg_in.SVG_CONVENTION``; readers of other
formats turn their layers and blocks into the same labels.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from nesting.findings import Finding, Level
from nesting.pieces.piece import Piece, Style
from service.formats.building import size_finding
from service.formats.drawn_lines import DrawnLine, Sketch, is_closed, problem
from service.formats.drawn_piece import WORDS_HINT, drawn_piece
from service.formats.words import (
    PieceWords,
    Role,
    WordError,
    is_bare_role,
    is_line_role,
    is_outline_role,
    read_line_words,
    read_style_words,
)


@dataclass(slots=True)
class Reading:
    """What came of a drawing: pieces, notes and warnings, and problems that refuse it."""

    style: Style
    findings: list[Finding]
    problems: list[Finding]


def read_drawing(lines: Sequence[DrawnLine], *, title: str, source: str) -> Reading:
    """The style that labelled lines show. ``title`` is the drawing's own title, may be empty."""
    findings: list[Finding] = []
    problems: list[Finding] = []
    defaults = _defaults(title, source, problems)
    pieces: list[Piece] = []
    for sketch in sketches(lines, findings):
        piece = drawn_piece(sketch, defaults, source, findings, problems)
        if piece is not None:
            pieces.append(piece)
            findings.append(size_finding(piece))
    if not pieces and not problems:
        problems.append(
            problem(
                "no-pieces",
                source,
                "no piece was found: the drawing has no closed path",
                "Draw each outline as one closed path; see the drawing convention.",
            )
        )
    pieces = _unlike(pieces, problems)
    return Reading(Style(defaults.name, tuple(pieces)), findings, problems)


def sketches(lines: Sequence[DrawnLine], findings: list[Finding]) -> list[Sketch]:
    """Lines sorted into pieces: by the group that holds an outline, else one closed path a piece."""
    lines = [_with_layer_role(line) for line in lines]
    owners = _piece_groups(lines)
    by_group: dict[int, Sketch] = {}
    made: list[Sketch] = []
    loose: list[DrawnLine] = []
    for line in lines:
        if is_line_role(line.label) and read_role(line.label) in (Role.CHECK, Role.IGNORED):
            continue
        owner = next((g for g in reversed(line.groups) if g.key in owners), None)
        if owner is None:
            loose.append(line)
            continue
        if owner.key not in by_group:
            by_group[owner.key] = Sketch(owner.label)
            made.append(by_group[owner.key])
        by_group[owner.key].lines.append(line)
    return [*made, *_loose_sketches(loose, findings)]


def _with_layer_role(line: DrawnLine) -> DrawnLine:
    """A line without a label in a layer that is called by a role ("cut", "grain") has that role."""
    if line.label:
        return line
    label = next((g.label for g in reversed(line.groups) if g.label), "")
    return replace(line, label=label) if is_bare_role(label) else line


def read_role(label: str) -> Role | None:
    """The role that a label's first word says, or None when the rest is not understood."""
    try:
        return read_line_words(label).role
    except WordError:
        return None


def _piece_groups(lines: Sequence[DrawnLine]) -> set[int]:
    """Keys of the groups that are pieces: the innermost labelled group round an outline, and every
    group whose label has words after a semicolon."""
    owners: set[int] = set()
    for line in lines:
        owners |= {g.key for g in line.groups if ";" in g.label}
    for line in lines:
        labelled = [g for g in line.groups if g.label and not is_bare_role(g.label)]
        if not is_outline_role(line.label) or not labelled:
            continue
        if not any(g.key in owners for g in labelled):
            owners.add(labelled[-1].key)
    return owners


def _loose_sketches(loose: list[DrawnLine], findings: list[Finding]) -> list[Sketch]:
    closed = [line for line in loose if is_closed(line) and not _role_only(line)]
    alone = Counter(g.key for line in closed for g in line.groups)
    made: dict[int, Sketch] = {}
    for i, line in enumerate(closed):
        before = closed[i - 1] if i else line
        if 0 < line.part == before.part + 1 and before.name == line.name:
            # A further run of the same compound path belongs to the piece before it.
            made[max(made)].lines.append(line)
            continue
        named = (g for g in reversed(line.groups) if g.label and not is_bare_role(g.label))
        group = next((g for g in named if alone[g.key] == 1), None)
        label = line.label if not is_bare_role(line.label) else ""
        label = label or (group.label if group else "") or line.name or f"Piece {len(made) + 1}"
        made[i] = Sketch(label, [line], plain=True)
    unused = [line for line in loose if line not in closed]
    if unused:
        names = ", ".join(dict.fromkeys(line.name or "a line without a name" for line in unused))
        findings.append(
            Finding(
                "unused-line",
                Level.WARNING,
                f"{len(unused)} line(s) belong to no piece and were not used: {names[:200]}",
                hint="Put each piece's lines into one group with its outline, labelled “net” or "
                "“cut”.",
            )
        )
    return list(made.values())


def _role_only(line: DrawnLine) -> bool:
    """A loose closed line whose label says that it is something else than an outline."""
    return is_bare_role(line.label) and not is_outline_role(line.label)


def _defaults(title: str, source: str, problems: list[Finding]) -> PieceWords:
    try:
        words = read_style_words(title) if title.strip() else PieceWords("")
    except WordError as e:
        problems.append(problem("words", f"{source} / title", str(e), WORDS_HINT))
        words = PieceWords("")
    name = words.name or source.rpartition("/")[2].rpartition(".")[0] or source
    return replace(words, name=name[:80])


def _unlike(pieces: list[Piece], problems: list[Finding]) -> list[Piece]:
    """Two pieces of one name cannot be told apart when they are laid."""
    for name, count in Counter(p.name for p in pieces).items():
        if count > 1:
            problems.append(
                problem(
                    "name-twice",
                    name,
                    f"{count} pieces are called “{name}”",
                    "Give each piece a name of its own; say how many by a count.",
                )
            )
    return pieces
