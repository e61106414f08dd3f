"""What was noticed about a piece or a file, said so that a person can act on it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Level(StrEnum):
    """How a finding ends: ``note`` tells, ``fixed`` was mended and says how, ``warning`` wants a
    look before cutting, ``refused`` stops the job until a person acts."""

    NOTE = "note"
    FIXED = "fixed"
    WARNING = "warning"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed. ``code`` is stable; ``where`` names the piece (and edge); ``hint`` says
    what to do."""

    code: str
    level: Level
    message: str
    where: str = ""
    hint: str = ""
