"""``grainfold serve``: the service, the address of the desk, and the demo's estimate at first sight."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import segno
from fastapi import FastAPI
from sqlalchemy.exc import SQLAlchemyError

from nesting.errors import NestingError
from service import server, wardrobe
from service.app import create_app
from service.errors import RefusedError, ServiceError
from service.kernels import keep_compiled_in
from service.logs import get_log, set_up_logs
from service.routes.devices import make_invite
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
EVERYWHERE = "0.0.0.0"

log = get_log("demo")


def run_serve(*, host: str | None, port: int | None, data: Path | None, lan: bool) -> None:
    """Serve until interrupted. Raises RefusedError if address or data directory cannot be used."""
    settings = read_settings(host=host, port=port, data=data, lan=lan or None)
    set_up_logs(as_json=settings.log_json)
    prepare_data_dir(settings)
    keep_compiled_in(settings.data)
    network = _network(settings) if settings.lan else None
    if network is not None:
        settings = settings.model_copy(
            update={
                "host": settings.host if host else EVERYWHERE,
                "allowed_hosts": (*settings.allowed_hosts, network),
            }
        )
    listening = server.bind(settings.host, settings.port)
    address = server.address_of(listening)
    if settings.port and not address.endswith(f":{settings.port}/"):
        say(f"Port {settings.port} is taken; a free one is used.")
    service = create_app(settings)
    if network is not None:
        service.state.lan_address = f"http://{network}:{listening.getsockname()[1]}/"

    def ready() -> None:
        say(f"The desk:  {address}   (Ctrl+C ends)")
        say(f"The table: {address}table")
        if network is not None:
            _tell_phone(service)
        _tell_demo(service, settings)

    server.run(service, listening, ready=ready)


def _network(settings: Settings) -> str:
    found = server.network_address()
    if found is None:
        raise RefusedError(
            "this machine has no address in a network, so --lan cannot be served",
            hint="Join the network first, or start without --lan.",
            where="--lan",
            code="no_network",
        )
    return found


def _tell_phone(service: FastAPI) -> None:
    """Print a code that lets one phone in. The network carries it unencrypted: that is said."""
    invite = make_invite(service.state.database, service.state.lan_address, "phone")
    say(f"A phone:   {invite.url}")
    say("           scan this with a phone on the same network; good once, for 15 minutes.")
    say("           The network carries it unencrypted: use a network that you trust.")
    segno.make(invite.url, error="l", micro=False).terminal(out=sys.stdout, compact=True)
    sys.stdout.flush()


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
        first = _wait(database, lay, lambda now: now["state"] in lays.OVER or _is_answered(now))
        say(f"The demo:  {_said(first)}")
        last = _wait(database, first, lambda now: now["state"] in lays.OVER)
        if _said(last) != _said(first):
            say(f"           {_said(last)} (after a search)")
    except (ServiceError, NestingError, SQLAlchemyError) as error:
        log.warning("the demo's estimate could not be made", error=repr(error))
        return


def _wait(
    database: Database, lay: dict[str, Any], enough: Callable[[dict[str, Any]], bool]
) -> dict[str, Any]:
    deadline = time.monotonic() + DEMO_PATIENCE_S
    while not enough(lay) and time.monotonic() < deadline:
        time.sleep(0.1)
        with database.reading() as session:
            lay = lay_detail(session, lays.get_lay(session, lay["id"]))
    return lay


def _is_answered(lay: dict[str, Any]) -> bool:
    """Whether every cloth has a layout."""
    return bool(lay["cloths"]) and len(lay["cloths"]) == len(lay["request"]["cloths"])


def _said(lay: dict[str, Any]) -> str:
    found = [f"{c['buy_text']} of {c['cloth']} ({c['fold']})" for c in lay["cloths"]]
    return f"{lay['style']}: buy {', '.join(found) or 'nothing yet'}"


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
