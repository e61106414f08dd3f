"""What the rim raises: bad files, bad requests, things not found, things not offered.

ServiceError
├── FormatError           400  a file cannot be read as pieces (``problems`` has each cause)
│   ├── UnitError         422  a drawing says no physical unit: choose one (``choices``)
│   ├── TooLargeError     413  a file, or what it unfolds to, is beyond our limits
│   ├── UnknownTypeError  415  a kind of file that is not read
│   └── TimeUpError       422  reading took longer, or more memory, than a file may take
├── WriteError            422  a drawing cannot be written as asked
├── RefusedError          422  read, but it cannot be used as it is (names the piece or field)
├── NotFoundError         404  no such thing is stored
├── ConflictError         409  somebody else changed it first
├── ForbiddenError        403  this host, page or device may not ask that
├── NotOfferedError       501  a wish that is planned but not built yet
└── BusyError             503  the store is locked or the workers are gone: try again
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nesting.findings import Finding


class ServiceError(Exception):
    """Something asked of the service cannot be done.

    ``code`` is stable and for programs; ``message`` says what was expected and what came; ``hint``
    says what to do about it; ``where`` names the file, piece or field; ``status`` is the HTTP status.
    """

    code = "service"
    status = 500

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
        # Errors come back from worker processes: rebuild with every field, not with args alone.
        return (_rebuild, (type(self), self.__dict__.copy()))


def _rebuild(kind: type[ServiceError], fields: dict[str, object]) -> ServiceError:
    error = kind.__new__(kind)
    Exception.__init__(error, fields["message"])
    error.__dict__.update(fields)
    return error


class FormatError(ServiceError):
    """A file cannot be read as pieces. ``problems`` lists every cause found, first one first."""

    code = "file"
    status = 400

    def __init__(
        self,
        message: str,
        *,
        hint: str = "",
        where: str = "",
        code: str | None = None,
        problems: Sequence[Finding] = (),
    ) -> None:
        super().__init__(message, hint=hint, where=where, code=code)
        self.problems = tuple(problems)


class UnitError(FormatError):
    """A drawing says no physical unit. ``choices`` are (value of ``unit_choice``, what it means)."""

    code = "unit"
    status = 422

    def __init__(
        self,
        message: str,
        *,
        hint: str = "",
        where: str = "",
        code: str | None = None,
        problems: Sequence[Finding] = (),
        choices: Sequence[tuple[str, str]] = (),
    ) -> None:
        super().__init__(message, hint=hint, where=where, code=code, problems=problems)
        self.choices = tuple(choices)


class TooLargeError(FormatError):
    """A file, or what it unfolds to, is beyond our limits."""

    code = "too_large"
    status = 413


class UnknownTypeError(FormatError):
    """A kind of file that is not read."""

    code = "unknown_type"
    status = 415


class TimeUpError(FormatError):
    """Reading took longer, or more memory, than a file may take."""

    code = "time_up"
    status = 422


class WriteError(ServiceError):
    """A drawing cannot be written as asked."""

    code = "write"
    status = 422


class RefusedError(ServiceError):
    """Read, but it cannot be used as it is."""

    code = "refused"
    status = 422


class NotFoundError(ServiceError):
    """No such thing is stored."""

    code = "not_found"
    status = 404


class ConflictError(ServiceError):
    """Somebody else changed it first."""

    code = "conflict"
    status = 409


class ForbiddenError(ServiceError):
    """This host, page or device may not ask that."""

    code = "forbidden"
    status = 403


class NotOfferedError(ServiceError):
    """A wish that is planned but not built yet."""

    code = "not_offered"
    status = 501


class BusyError(ServiceError):
    """The store is locked or the workers are gone: try again."""

    code = "busy"
    status = 503


@dataclass(frozen=True, slots=True)
class ErrorShape:
    """The one shape of an error: ``{"error": {...}}`` on the wire, one line on a terminal.

    ``choices`` (value, meaning) are on the wire only where a person must choose: a drawing's unit.
    """

    code: str
    message: str
    hint: str = ""
    where: str = ""
    choices: tuple[tuple[str, str], ...] = ()

    def as_json(self) -> dict[str, dict[str, object]]:
        """The body of an error answer."""
        body: dict[str, object] = {
            "code": self.code,
            "message": self.message,
            "hint": self.hint,
            "where": self.where,
        }
        if self.choices:
            body["choices"] = [list(c) for c in self.choices]
        return {"error": body}

    def as_line(self) -> str:
        """One line for a terminal."""
        named = self.where.rpartition(".")[2] in self.message
        place = f"{self.where}: " if self.where and not named else ""
        hint = f" {self.hint}" if self.hint else ""
        return f"{place}{self.message.rstrip('.')}.{hint}"
