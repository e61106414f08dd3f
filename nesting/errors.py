"""What the pure core raises.

NestingError
├── PieceError        a piece as drafted cannot be used (names the piece)
├── AllowanceError    a cut line cannot be made from this net line (names the piece)
├── ClothError        the cloth as described cannot be spread
├── LayError          these pieces cannot be laid on this cloth (names the piece)
├── ProblemError      the engine was handed something that is not a packing problem
└── InvariantError    our own mistake: a layout was made that is not legal
"""

from __future__ import annotations


class NestingError(Exception):
    """Something asked of the core cannot be done.

    ``code`` is stable and for programs; the message says what was expected and what came; ``hint``
    says what to do about it; ``where`` names the piece, edge or field.
    """

    code = "nesting"

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
    kind: type[NestingError], message: str, hint: str, where: str, code: str
) -> NestingError:
    return kind(message, hint=hint, where=where, code=code)


class PieceError(NestingError):
    """A piece as drafted cannot be used."""

    code = "piece"


class AllowanceError(NestingError):
    """A cut line cannot be made from this net line."""

    code = "allowance"


class ClothError(NestingError):
    """The cloth as described cannot be spread."""

    code = "cloth"


class LayError(NestingError):
    """These pieces cannot be laid on this cloth."""

    code = "lay"


class ProblemError(NestingError):
    """The engine was handed something that is not a packing problem."""

    code = "problem"


class InvariantError(NestingError):
    """Our own mistake: a layout was made that is not legal."""

    code = "invariant"
