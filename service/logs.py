"""Logs: one line an event, readable on a terminal, JSON elsewhere; never secrets, never drawings."""

from __future__ import annotations

import logging
import sys
from typing import Any

import structlog

SECRET_KEYS = frozenset({"token", "cookie", "authorization", "password", "database_url"})


def set_up_logs(*, as_json: bool | None = None, level: int = logging.INFO) -> None:
    """Send structlog's events to stderr. ``as_json`` None means JSON unless stderr is a terminal."""
    as_json = not sys.stderr.isatty() if as_json is None else as_json
    renderer: Any = (
        structlog.processors.JSONRenderer(ensure_ascii=False)
        if as_json
        else structlog.dev.ConsoleRenderer(colors=sys.stderr.isatty())
    )
    structlog.configure(
        processors=[
            structlog.contextvars.merge_contextvars,
            _hide_secrets,
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.format_exc_info,
            renderer,
        ],
        wrapper_class=structlog.make_filtering_bound_logger(level),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
        cache_logger_on_first_use=False,
    )


def get_log(name: str) -> Any:
    """A logger whose events carry ``name``."""
    return structlog.get_logger(part=name)


def _hide_secrets(_logger: Any, _method: str, event: Any) -> Any:
    for key in SECRET_KEYS & event.keys():
        event[key] = "…"
    return event
