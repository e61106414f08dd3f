"""``grainfold serve``: the service, the address of the desk, and the demo's estimate at first sight."""

from __future__ import annotations

import threading
import time
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from sqlalchemy.exc import SQLAlchemyError

from nesting.errors import NestingError
from service import server, wardrobe
from service.app import create_app
from service.errors import ServiceError
from service.kernels import keep_compiled_in
from service.logs import get_log, set_up_logs
from service.routes.lays import begin_lay, lay_detail
from service.schemas import ClothRequest, LayRequest
from service.searches import Searches
from service.settings import Settings, prepare_data_dir, read_settings
from service.store import lays, styles
from service.store.database import Database

DEMO_STYLE = "waistcoat.json"
DEMO_SECONDS = 3.0
DEMO_CLOTH = {"width": "150 cm", "fold": "lengthwise"}
DEMO_PATIENCE_S = 60.0

log = get_log("demo")


def run_serve(*, host: str | None, port: int | None, data: Path | None) -> None:
    """Serve until interrupted. Raises RefusedError if address or data directory cannot be used."""
    settings = read_settings(host=host, port=port, data=data)
    set_up_logs(as_json=settings.log_json)
    prepare_data_dir(settings)
    keep_compiled_in(settings.data)
    listening = server.bind(settings.host, settings.port)
    address = server.address_of(listening)
    if settings.port and not address.endswith(f":{settings.port}/"):
        say(f"Port {settings.port} is taken; a free one is used.")
    service = create_app(settings)

    def ready() -> None:
        say(f"The desk:  {address}   (Ctrl+C ends)")
        say(f"The table: {address}table")
        _tell_demo(service, settings)

    server.run(service, listening, ready=ready)


def say(line: str) -> None:
    """Print a line at once, also into a pipe."""
    print(line, flush=True)


def _tell_demo(service: FastAPI, settings: Settings) -> None:
    """Print the demo's estimate: the kept one, or that of a lay made now, on the first start."""
    if not settings.demo:
        return
    threading.Thread(target=_demo_lines, args=(service,), daemon=True, name="demo").start()


def _demo_lines(service: FastAPI) -> None:
    database, searches = service.state.database, service.state.searches
    try:
        lay = _demo_lay(database, searches)
        if lay is None:
            return
        deadline = time.monotonic() + DEMO_PATIENCE_S
        while lay["state"] not in lays.OVER and time.monotonic() < deadline:
            time.sleep(0.1)
            with database.reading() as session:
                lay = lay_detail(session, lays.get_lay(session, lay["id"]))
    except (ServiceError, NestingError, SQLAlchemyError) as error:
        log.warning("the demo's estimate could not be made", error=repr(error))
        return
    found = [f"{c['buy_text']} of {c['cloth']} ({c['fold']})" for c in lay["cloths"]]
    say(f"The demo:  {lay['style']}: buy {', '.join(found) or 'nothing yet'}")


def _demo_lay(database: Database, searches: Searches) -> dict[str, Any] | None:
    with database.reading() as session:
        demo = [row for row, _ in styles.list_styles(session) if row.source == DEMO_STYLE]
        if not demo:
            return None
        known = lays.list_lays(session, demo[0].id)
        if known:
            return lay_detail(session, known[-1])
        _, style = wardrobe.stored_style(session, demo[0].id)
    cloths = {role: ClothRequest(**DEMO_CLOTH) for role in style.cloths}
    wish = LayRequest(style_id=demo[0].id, seconds=DEMO_SECONDS, cloths=cloths)
    return begin_lay(database, searches, wish)
