"""The tolerances of the core, each named once, with unit and reason."""

from __future__ import annotations

from typing import Final

CHORD_MM: Final = 0.02
"""Curves become polylines with at most this chord error. Offsetting scales the error by (R + d) / R
on the convex side, so 0.02 mm on the net line stays below the 0.05 mm promised for the cut line."""

POINT_MM: Final = 1e-6
"""Two points nearer than this are one point."""

SHORT_EDGE_MM: Final = 0.5
"""Outline steps shorter than this at a corner are merged (with a finding) before offsetting: over
such a step a mitre grows on the wrong corner, up to 58 mm away as measured."""

SNAP_MM: Final = 1e-3
"""Grid of the integer clipper: one micrometre."""

OVERLAP_MM: Final = 0.1
"""Pieces of a legal layout may interpenetrate by less than this: a tenth of the finest tolerance to
which cloth is cut (1 mm, Vilumsone-Nemes, Industrial Cutting of Textile Materials, table 13.1)."""

GRAIN_DEG: Final = 1e-6
"""Grain of a laid piece may lean from its permitted turn by less than this: turns are exact here."""

CONTACT_MM: Final = 0.05
"""A fold edge lies on the fold when no point of it is farther off than this."""
