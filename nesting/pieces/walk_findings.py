"""What a person should look at in a walked seam."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.findings import Finding, Level
from nesting.pieces.partners import Seam, said_row
from nesting.pieces.walk import ANGLE_DEG, LENGTH_MM, NOTCH_MM, NotchMeeting, Walk
from nesting.polygon import path_length


def findings_of(walk: Walk) -> list[Finding]:
    """What a person should look at in a walked seam."""
    where = walk.first
    said: list[Finding] = []
    gap = walk.difference_mm
    if abs(gap) > LENGTH_MM:
        longer, shorter = (walk.first, walk.second) if gap > 0 else (walk.second, walk.first)
        said.append(
            Finding(
                "seam-lengths-differ",
                Level.WARNING,
                f"{longer} is {abs(gap):.1f} mm longer than {shorter} "
                f"({walk.first_mm:.1f} and {walk.second_mm:.1f} mm sewn)",
                where=where,
                hint="shorten or lengthen one edge, or state the difference as ease",
            )
        )
    for met in walk.notches:
        if met.here_mm is None or met.other_mm is None:
            if _at_corner(met, walk):
                continue
            on, off = (
                (walk.first, walk.second) if met.other_mm is None else (walk.second, walk.first)
            )
            at = met.here_mm if met.other_mm is None else met.other_mm
            said.append(
                Finding(
                    "notch-alone",
                    Level.WARNING,
                    f"the notch on {on} at {at:.1f} mm meets none on {off}",
                    where=on,
                    hint="add its partner or take it away",
                )
            )
        elif abs(met.miss_mm) > NOTCH_MM:
            said.append(
                Finding(
                    "notches-miss",
                    Level.WARNING,
                    f"a notch on {walk.first} at {met.here_mm:.1f} mm and its partner on "
                    f"{walk.second} lie {abs(met.miss_mm):.1f} mm apart",
                    where=where,
                    hint="move one of them",
                )
            )
    if walk.order_doubted:
        said.append(
            Finding(
                "row-order",
                Level.WARNING,
                f"{walk.second} are sewn to {walk.first} in this order, but their outer edges run on "
                "into its own the other way round",
                where=where,
                hint="name the edges of a row in the order in which they lie along the edge, from its "
                "start",
            )
        )
    for end, turn in (("start", walk.turn_at_start_deg), ("end", walk.turn_at_end_deg)):
        if abs(turn) > ANGLE_DEG:
            shape = "a point" if turn > 0 else "a hollow"
            said.append(
                Finding(
                    "joined-edge-turns",
                    Level.WARNING,
                    f"at the {end} of {walk.first} the edge joined with {walk.second} makes {shape}: "
                    f"it turns by {abs(turn):.1f} degrees",
                    where=where,
                    hint="redraw both outer edges as one smooth line across the seam",
                )
            )
    return said


def _at_corner(met: NotchMeeting, walk: Walk) -> bool:
    """Whether a notch stands where the seam ends, or where two edges of the other side meet: it meets
    a corner."""
    at, drawn, joins, line = (
        (met.here_mm, met.here_at, walk.other_joins, walk.other_laid)
        if met.other_mm is None
        else (met.other_mm, met.other_at, walk.joins, walk.laid)
    )
    if at is None or drawn is None:
        return False
    if min(abs(at), abs(walk.first_mm - at)) <= NOTCH_MM:
        return True
    own = walk.laid if met.other_mm is None else walk.other_laid
    shift = drawn / path_length(own) * path_length(line)
    return any(abs(j.at_mm - shift) <= NOTCH_MM for j in joins)


def rows_unsaid(walks: Sequence[Walk]) -> list[Finding]:
    """Edges that are each sewn to one and the same edge and differ from it in length, but agree with it
    together: they seem to be a row, which nobody said."""
    by_partner: dict[str, list[Walk]] = {}
    for walk in walks:
        if abs(walk.difference_mm) > LENGTH_MM:
            by_partner.setdefault(walk.second, []).append(walk)
    return [
        Finding(
            "row-unsaid",
            Level.WARNING,
            f"{' and '.join(w.first for w in found)} are each sewn to {partner}, and together they are "
            "as long as it is",
            where=partner,
            hint=f"say on {partner} that it is sewn to all of them, in the order in which they lie "
            "along it",
        )
        for partner, found in by_partner.items()
        if len(found) > 1 and abs(sum(w.first_mm for w in found) - found[0].second_mm) <= LENGTH_MM
    ]


def no_partner(seam: Seam, unknown: Sequence[str]) -> Finding:
    """That a seam cannot be walked, because the style does not have these edges."""
    return Finding(
        "partner-unknown",
        Level.WARNING,
        f"{said_row(seam.run)} is to be sewn to {said_row(seam.row)}, but the style does not have "
        + " and ".join(unknown),
        where=seam.said_on,
        hint='name its partner as "piece/edge", a row as "piece/edge + piece/edge"',
    )
