"""Counts the bytes of a request's body before anything parses them.

A framework's own limits do not bound file parts, and Content-Length may lie or be absent: so first
the header is judged, then every byte that arrives is counted.
"""

from __future__ import annotations

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.errors import TooLargeError
from service.settings import MEGABYTE

DRAINED_BYTES = 200 * MEGABYTE
"""So much of a refused body is read and dropped: a sender that is cut off while it still sends
never sees our answer, only a broken connection."""


class UploadLimit:
    """ASGI middleware: a body over ``limit`` bytes is refused with TooLargeError."""

    def __init__(self, app: ASGIApp, limit: int) -> None:
        self.app = app
        self.limit = limit

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, with a ``receive`` that counts."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        told = dict(scope["headers"]).get(b"content-length", b"")
        if told.isdigit() and int(told) > self.limit:
            await drain(receive)
            raise self._error(int(told))
        taken = 0

        async def counted() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > self.limit:
                await drain(receive)
                raise self._error(taken)
            return message

        await self.app(scope, counted, send)

    def _error(self, size: int) -> TooLargeError:
        return TooLargeError(
            f"the file is too large: {size / MEGABYTE:.1f} MB came, "
            f"at most {self.limit / MEGABYTE:g} MB are taken",
            hint="Send one style at a time; leave photographs and fonts out of the drawing.",
        )


async def drain(receive: Receive) -> None:
    """Read and drop what is left of the body, up to DRAINED_BYTES."""
    dropped = 0
    while dropped < DRAINED_BYTES:
        message = await receive()
        dropped += len(message.get("body", b""))
        if message["type"] != "http.request" or not message.get("more_body", False):
            return
