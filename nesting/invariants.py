"""Slow and certain proof that a layout is legal, by shapely alone. Shares no code with the engine."""

from __future__ import annotations
