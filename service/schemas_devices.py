"""The wire's shapes of devices on the same network."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from service.schemas import Wire


class Invite(Wire):
    """A way in for one more device: the address with its token, and the same as a QR code (a
    ``data:`` address of an SVG). The token is good once, for a quarter of an hour."""

    url: str
    qr: str
    expires: str


class InviteWish(Wire):
    """Who is to come in."""

    name: str = Field(default="phone", max_length=60)


class Enter(Wire):
    """The token of an invite, from the address's fragment."""

    token: str = Field(max_length=200)


class DeviceView(Wire):
    """A device that was let in."""

    id: str
    name: str
    role: Literal["hand"]
    created: str
    expires: str


class DeviceList(Wire):
    """All devices that may come in now."""

    devices: list[DeviceView]
    lan: bool = Field(description="whether other machines are served at all (serve --lan)")


class Me(Wire):
    """What the asking page may do: ``desk`` everything, ``hand`` walk and mark."""

    role: Literal["desk", "hand"]
    name: str
