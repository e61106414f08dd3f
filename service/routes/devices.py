"""Devices on the same network: let in by a code, listed, sent away."""

from __future__ import annotations

import segno
from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from service.cutting import Hub
from service.errors import ConflictError
from service.routes.styles import database_of
from service.schemas_devices import DeviceList, DeviceView, Enter, Invite, InviteWish, Me
from service.store import devices
from service.store.database import Database
from service.visitors import COOKIE, visitor_of

router = APIRouter(prefix="/api/devices", tags=["devices"])


@router.get("")
def list_devices(request: Request) -> DeviceList:
    """Devices that may come in now."""
    with database_of(request).reading() as session:
        found = [
            DeviceView(id=d.id, name=d.name, role="hand", created=d.created, expires=d.expires)
            for d in devices.list_devices(session)
        ]
    return DeviceList(devices=found, lan=request.app.state.lan_address is not None)


@router.post("/invites", status_code=201)
def invite(request: Request, wish: InviteWish) -> Invite:
    """A code for one more device."""
    return make_invite(database_of(request), request.app.state.lan_address, wish.name)


@router.post("/enter")
def enter(request: Request, wish: Enter) -> Response:
    """Exchange an invite's token, once, for the cookie that lets this device in."""
    with database_of(request).writing() as session:
        token, device = devices.enter(session, wish.token)
        me = Me(role="hand", name=device.name)
    answer = JSONResponse(me.model_dump())
    answer.set_cookie(
        COOKIE,
        token,
        max_age=int(devices.DEVICE_GOOD.total_seconds()),
        httponly=True,
        samesite="strict",
    )
    return answer


@router.get("/me")
def me(request: Request) -> Me:
    """What the asking page may do."""
    visitor = visitor_of(request)
    return Me.model_validate({"role": visitor.role, "name": visitor.name})


@router.delete("/{device_id}", status_code=204)
def revoke(request: Request, device_id: str) -> Response:
    """Let a device in no longer."""
    with database_of(request).writing() as session:
        devices.revoke(session, device_id)
    hub: Hub = request.app.state.hub
    hub.wake()
    return Response(status_code=204)


def make_invite(database: Database, lan_address: str | None, name: str) -> Invite:
    """A new invite. Raises ConflictError when other machines are not served."""
    if lan_address is None:
        raise ConflictError(
            "other machines are not served",
            hint="Start the service with: grainfold serve --lan",
            code="not_lan",
        )
    with database.writing() as session:
        token, row = devices.add_invite(session, name)
        expires = row.expires
    # The token is in the fragment: browsers never send that, so it is in no log and no Referer.
    url = f"{lan_address}hand#t={token}"
    qr = segno.make(url, error="l", micro=False)
    return Invite(url=url, qr=qr.svg_data_uri(scale=4, border=4), expires=expires)
