"""A service on a real socket in this process, for what a test client cannot show: streams, names."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn

from service import server
from service.app import create_app
from service.settings import Settings


@contextmanager
def live_service(settings: Settings) -> Iterator[str]:
    """The address (without a slash at its end) of a service that runs until the block ends."""
    listening = server.bind("127.0.0.1", 0)
    config = uvicorn.Config(create_app(settings), log_level="error", timeout_graceful_shutdown=1)
    running = uvicorn.Server(config)
    thread = threading.Thread(target=running.run, kwargs={"sockets": [listening]})
    thread.start()
    end = time.monotonic() + 30
    while not running.started:
        assert time.monotonic() < end
        assert thread.is_alive()
        time.sleep(0.02)
    try:
        yield server.address_of(listening).rstrip("/")
    finally:
        running.should_exit = True
        thread.join()
        listening.close()
