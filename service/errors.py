"""What the rim raises: bad files, bad requests, things not found, things not offered.

ServiceError
├── UnreadableError   400  a file or a body that cannot be read at all
├── RefusedError      422  read, but it cannot be used as it is (names the piece or field)
├── NotFoundError     404  no such thing is stored
├── ConflictError     409  somebody else changed it first
├── ForbiddenError    403  this host, page or device may not ask that
├── TooLargeError     413  more bytes or points than are taken
├── UnknownTypeError  415  a kind of file that is not read
├── NotOfferedError   501  a wish that is planned but not built yet
└── BusyError         503  the store is locked or the workers are gone: try again
"""

from __future__ import annotations

from dataclasses import dataclass


class ServiceError(Exception):
    """Something asked of the service cannot be done.

    ``code`` is stable and for programs; ``message`` says what was expected and what came; ``hint``
    says what to do about it; ``where`` names the file, piece or field; ``status`` is the HTTP status.
    """

    code = "service"
    status = 500

    def __init__(
        self,
        message: str,
        *,
        hint: str = "",
        where: str = "",
        code: str | None = None,
        status: int | None = None,
    ) -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint
        self.where = where
        if code is not None:
            self.code = code
        if status is not None:
            self.status = status

    def __reduce__(self) -> tuple[object, ...]:
        # Errors cross process borders: rebuild with the keyword fields, not with args alone.
        fields = (type(self), self.message, self.hint, self.where, self.code, self.status)
        return (_rebuild, fields)


def _rebuild(
    kind: type[ServiceError], message: str, hint: str, where: str, code: str, status: int
) -> ServiceError:
    return kind(message, hint=hint, where=where, code=code, status=status)


class UnreadableError(ServiceError):
    """A file or a body that cannot be read at all."""

    code = "unreadable"
    status = 400


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


class TooLargeError(ServiceError):
    """More bytes or points than are taken."""

    code = "too_large"
    status = 413


class UnknownTypeError(ServiceError):
    """A kind of file that is not read."""

    code = "unknown_type"
    status = 415


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
    """The one shape of an error, on the wire as ``{"error": {...}}`` and on the command line."""

    code: str
    message: str
    hint: str = ""
    where: str = ""

    def as_json(self) -> dict[str, dict[str, str]]:
        """The body of an error answer."""
        return {
            "error": {
                "code": self.code,
                "message": self.message,
                "hint": self.hint,
                "where": self.where,
            }
        }

    def as_line(self) -> str:
        """One line for a terminal."""
        place = f"{self.where}: " if self.where and self.where not in self.message else ""
        hint = f" {self.hint}" if self.hint else ""
        return f"{place}{self.message.rstrip('.')}.{hint}"
