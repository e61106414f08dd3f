"""What calibration raises.

CalibrationError
├── MapError        a table map is not one, or is asked about a place the projector cannot reach
├── TapeError       the tape readings do not settle the map (names the reading)
├── BoardError      a board cannot be made as asked
├── PhotoError      a photo cannot be used as a photo (names the photo)
├── DetectionError  the board was not found, or not for certain (names the photo; code says why)
└── FitError        the corners found do not give a map that may be trusted
"""

from __future__ import annotations


class CalibrationError(Exception):
    """Something asked of calibration cannot be done.

    ``code`` is stable and for programs; the message says what was expected and what came; ``hint``
    says what to do about it; ``where`` names the photo, cross, reading or field.
    """

    code = "calibration"

    def __init__(
        self, message: str, *, hint: str = "", where: str = "", code: str | None = None
    ) -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint
        self.where = where
        if code is not None:
            self.code = code

    def __reduce__(self) -> tuple[object, ...]:
        # Errors cross process borders: rebuild with the keyword fields, not with args alone.
        return (_rebuild, (type(self), self.message, self.hint, self.where, self.code))


def _rebuild(
    kind: type[CalibrationError], message: str, hint: str, where: str, code: str
) -> CalibrationError:
    return kind(message, hint=hint, where=where, code=code)


class MapError(CalibrationError):
    """A table map is not one, or is asked about a place the projector cannot reach."""

    code = "map"


class TapeError(CalibrationError):
    """The tape readings do not settle the map."""

    code = "tape"


class BoardError(CalibrationError):
    """A board cannot be made as asked."""

    code = "board"


class PhotoError(CalibrationError):
    """A photo cannot be used as a photo."""

    code = "photo"


class DetectionError(CalibrationError):
    """The board was not found, or not for certain."""

    code = "detection"


class FitError(CalibrationError):
    """The corners found do not give a map that may be trusted."""

    code = "fit"
