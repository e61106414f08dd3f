"""Running the service: a socket of our own, so that the address is known before anything starts."""

from __future__ import annotations

import errno
import socket
from collections.abc import Callable

import uvicorn
from fastapi import FastAPI

from service.errors import RefusedError

GRACE_S = 2
"""Open event streams would hold up the end for ever; so long they are waited for."""

TAKEN = frozenset({errno.EADDRINUSE})


def bind(host: str, port: int) -> socket.socket:
    """A listening socket on ``port``, or on any free port if that one is taken.

    Raises RefusedError if the address itself cannot be used.
    """
    try:
        return _listen(host, port)
    except OSError as error:
        if error.errno not in TAKEN:
            raise RefusedError(
                f"grainfold cannot listen on {host}:{port}: {error.strerror or error}",
                hint="Choose another address with --host and --port.",
                where="host",
                code="address",
            ) from error
    return _listen(host, 0)


def address_of(listening: socket.socket) -> str:
    """The address to open in a browser on this machine."""
    host, port = listening.getsockname()[:2]
    name = {"0.0.0.0": "127.0.0.1", "::": "[::1]"}.get(host, f"[{host}]" if ":" in host else host)
    return f"http://{name}:{port}/"


def network_address() -> str | None:
    """This machine's address in the local network, or None without one.

    Nothing is sent: choosing a route to a documentation address (RFC 5737) tells which of our own
    addresses would be used.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            found = str(probe.getsockname()[0])
        except OSError:
            return None
    return None if found.startswith(("127.", "0.")) else found


def run(app: FastAPI, listening: socket.socket, *, ready: Callable[[], None]) -> None:
    """Serve ``app`` until interrupted; ``ready`` is called when it answers."""
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=GRACE_S,
    )
    server = _Server(config, ready)
    server.run(sockets=[listening])


class _Server(uvicorn.Server):
    def __init__(self, config: uvicorn.Config, ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets=sockets)
        if self.started:
            self._ready()


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((host.strip("[]"), port))
        listening.listen(64)
    except OSError:
        listening.close()
        raise
    return listening
