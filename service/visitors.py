"""Who is asking: the desk on this machine, or a device that was let in from the network.

A connection from this machine is the desk and may do everything (Host and Origin are checked all the
same). Any other needs the cookie that a device got for an invite's token, and may do what its role
may.
"""

from __future__ import annotations

import ipaddress
import re
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie

from starlette.requests import HTTPConnection
from starlette.types import Scope

from service.errors import ForbiddenError
from service.store import devices
from service.store.database import Database

DESK, HAND = "desk", "hand"
COOKIE = "grainfold_device"

OPEN_TO_ALL = (("GET", r"/api/health"), ("POST", r"/api/devices/enter"))
HAND_MAY = (
    ("GET", r"/api/devices/me"),
    ("GET", r"/api/cuttings(/events)?"),
    ("GET", r"/api/lays/[^/]+/cutting"),
    ("GET", r"/api/lays/[^/]+/projection"),
    ("PUT", r"/api/lays/[^/]+/cutting/walk"),
    ("POST", r"/api/lays/[^/]+/cutting/(marks|look)"),
)


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who asks. ``device`` is None for the desk."""

    role: str
    name: str
    device: str | None = None


THE_DESK = Visitor(DESK, "desk")
STRANGER = Visitor("stranger", "stranger")


class Visitors:
    """Finds out who asks, and whether they may."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def admit(self, scope: Scope, headers: dict[str, str]) -> Visitor:
        """The visitor of a request from another machine. Raises ForbiddenError if they may not ask.

        Pages and their files are open to all: they hold nothing of the person's.
        """
        path, method = scope["path"], scope.get("method", "GET")
        visitor = self._device(headers) or STRANGER
        if not path.startswith("/api/") or _matches(OPEN_TO_ALL, method, path):
            return visitor
        if visitor is STRANGER:
            raise ForbiddenError(
                "this device has not been let in, or its time is over",
                hint="Let the desk show a code and scan it with this device.",
                code="not_let_in",
            )
        if not _matches(HAND_MAY, method, path):
            raise ForbiddenError(
                "a hand-held page may walk and mark only",
                hint="Do this at the desk.",
                code="not_for_hand",
            )
        return visitor

    def still_in(self, visitor: Visitor) -> bool:
        """Whether the visitor's device may still come in."""
        with self._database.reading() as session:
            return any(row.id == visitor.device for row in devices.list_devices(session))

    def _device(self, headers: dict[str, str]) -> Visitor | None:
        token = _cookie(headers.get("cookie", ""))
        if not token:
            return None
        with self._database.reading() as session:
            row = devices.device_of(session, token)
            return None if row is None else Visitor(row.role, row.name, row.id)


def visitor_of(connection: HTTPConnection) -> Visitor:
    """Who asks, as the guard found."""
    visitor: Visitor = connection.scope["visitor"]
    return visitor


def is_this_machine(scope: Scope) -> bool:
    """Whether the connection comes from this machine itself."""
    client = scope.get("client")
    if client is None:
        return False
    try:
        address = ipaddress.ip_address(client[0])
    except ValueError:
        return False
    mapped = getattr(address, "ipv4_mapped", None)
    return bool((mapped or address).is_loopback)


def _matches(rules: tuple[tuple[str, str], ...], method: str, path: str) -> bool:
    return any(m == method and re.fullmatch(pattern, path) for m, pattern in rules)


def _cookie(header: str) -> str:
    try:
        morsel = SimpleCookie(header).get(COOKIE)
    except CookieError:
        return ""
    return morsel.value if morsel is not None else ""
