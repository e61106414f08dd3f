"""Who may talk to the service: named hosts, and pages that came from it.

A page of another site may make a browser send requests to 127.0.0.1, and a rebound name may even
read the answers. So the Host header must be on the list, and whatever changes something must say
that it comes from one of our own pages (Origin on the list and equal to Host, or Sec-Fetch-Site
same-origin or none). Comparing Origin with Host alone would not stop a rebound name.
"""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.types import ASGIApp, Receive, Scope, Send

from service.errors import ForbiddenError
from service.settings import Settings
from service.visitors import THE_DESK, Visitors, is_this_machine

LOCAL_HOSTS = frozenset({"localhost", "127.0.0.1", "[::1]"})
READING_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
WILDCARDS = frozenset({"", "0.0.0.0", "::", "[::]"})


def allowed_hosts(settings: Settings) -> frozenset[str]:
    """The host names (without port, IPv6 in brackets) under which the service answers."""
    hosts = {settings.host, *settings.allowed_hosts} - WILDCARDS
    return LOCAL_HOSTS | {_bracketed(host.strip().lower()) for host in hosts}


class AccessGuard:
    """ASGI middleware: refuses foreign Hosts always, foreign Origins wherever something changes, and
    devices of the network that were not let in. Leaves the visitor in the scope."""

    def __init__(
        self, app: ASGIApp, hosts: frozenset[str], visitors: Callable[[], Visitors]
    ) -> None:
        self.app = app
        self.hosts = hosts
        self.visitors = visitors

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the request through, or raise ForbiddenError."""
        if scope["type"] in ("http", "websocket"):
            headers = {
                k.decode("latin-1").lower(): v.decode("latin-1") for k, v in scope["headers"]
            }
            self._check_host(headers)
            if scope["type"] == "websocket" or scope["method"] not in READING_METHODS:
                self._check_origin(headers)
            # Who asks is looked up in the database, but for the desk.
            local = is_this_machine(scope)
            scope["visitor"] = (
                THE_DESK
                if local
                else await run_in_threadpool(self.visitors().admit, scope, headers)
            )
        await self.app(scope, receive, send)

    def _check_host(self, headers: dict[str, str]) -> None:
        host = headers.get("host", "")
        if host_name(host) not in self.hosts:
            raise ForbiddenError(
                f"the host “{host}” is not served here",
                hint="Open the address that grainfold printed, or add the name to "
                "GRAINFOLD_ALLOWED_HOSTS.",
                where="Host",
                code="host_refused",
            )

    def _check_origin(self, headers: dict[str, str]) -> None:
        origin, site = headers.get("origin"), headers.get("sec-fetch-site")
        if origin is None:
            fine = site in ("same-origin", "none")
        else:
            parts = urlsplit(origin)
            fine = (
                parts.scheme in ("http", "https")
                and host_name(parts.netloc) in self.hosts
                and parts.netloc.lower() == headers.get("host", "").lower()
            )
        if not fine:
            raise ForbiddenError(
                f"a change asked from “{origin or 'no origin'}” is refused",
                hint="Changes are taken from our own pages only; a program must send "
                f"Origin: http://{headers.get('host', '')}",
                where="Origin",
                code="origin_refused",
            )


def host_name(host: str) -> str:
    """``host`` without its port, lower case: ``[::1]:8765`` -> ``[::1]``."""
    host = host.strip().lower()
    if host.startswith("["):
        return host.partition("]")[0] + "]"
    return host.partition(":")[0]


def _bracketed(host: str) -> str:
    return f"[{host}]" if ":" in host and not host.startswith("[") else host
