"""Devices that were let in, and invites for more. Only hashes of tokens are kept."""

from __future__ import annotations

import hashlib
import secrets
from datetime import UTC, datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import ForbiddenError, NotFoundError
from service.store.tables import DeviceRow, InviteRow, now

TOKEN_BYTES = 32
INVITE_GOOD = timedelta(minutes=15)
DEVICE_GOOD = timedelta(hours=12)
"""A day's cutting: after that the phone scans the code again."""

HAND = "hand"


def add_invite(session: Session, name: str) -> tuple[str, InviteRow]:
    """A new invite and its token, which is not kept."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    row = InviteRow(token_hash=hashed(token), name=name, expires=_in(INVITE_GOOD))
    session.add(row)
    session.flush()
    return token, row


def enter(session: Session, token: str) -> tuple[str, DeviceRow]:
    """Exchange an invite's token for a device and its own token, once. Raises ForbiddenError."""
    row = session.get(InviteRow, hashed(token))
    if row is None or row.used is not None or row.expires < now():
        raise ForbiddenError(
            "this code was used already or is too old",
            hint="Let the desk show a new one and scan that.",
            where="token",
            code="invite",
        )
    row.used = now()
    own = secrets.token_urlsafe(TOKEN_BYTES)
    device = DeviceRow(token_hash=hashed(own), name=row.name, role=HAND, expires=_in(DEVICE_GOOD))
    session.add(device)
    session.flush()
    return own, device


def device_of(session: Session, token: str) -> DeviceRow | None:
    """The device that holds this token and may still come in."""
    query = select(DeviceRow).where(DeviceRow.token_hash == hashed(token))
    row = session.scalars(query).first()
    return row if row is not None and row.revoked is None and row.expires >= now() else None


def list_devices(session: Session) -> list[DeviceRow]:
    """Devices that may come in now."""
    query = select(DeviceRow).where(DeviceRow.revoked.is_(None), DeviceRow.expires >= now())
    return list(session.scalars(query.order_by(DeviceRow.created)))


def revoke(session: Session, device_id: str) -> DeviceRow:
    """Let a device in no longer."""
    row = session.get(DeviceRow, device_id)
    if row is None or row.revoked is not None:
        raise NotFoundError(f"there is no device “{device_id}”", where=device_id)
    row.revoked = now()
    return row


def hashed(token: str) -> str:
    """What is kept of a token. It has 256 random bits, so a plain hash cannot be tried out; and
    looking up a hash tells nothing by its time."""
    return hashlib.sha256(token.encode()).hexdigest()


def _in(duration: timedelta) -> str:
    return (datetime.now(UTC) + duration).isoformat(timespec="milliseconds")
