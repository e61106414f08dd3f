"""The tables. JSON columns hold our own wire forms (a piece sheet, a cloth's result), so that what
was kept by one version is read by the next through the same readers as a file."""

from __future__ import annotations

import secrets
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, Double, ForeignKey, Index, MetaData, String, Text
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_name)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}


def new_id() -> str:
    """A short identifier that no one can guess from another."""
    return secrets.token_hex(6)


def now() -> str:
    """The time, UTC, ISO 8601 to the millisecond: sorts as text on every database."""
    return datetime.now(UTC).isoformat(timespec="milliseconds")


class Base(DeclarativeBase):
    """All tables."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map = {dict[str, Any]: JSON}  # noqa: RUF012 - SQLAlchemy reads a plain dict


class StyleRow(Base):
    """One garment design; ``revision`` is the number of the revision that is shown now."""

    __tablename__ = "style"

    id: Mapped[str] = mapped_column(String(32), primary_key=True, default=new_id)
    name: Mapped[str] = mapped_column(Text)
    note: Mapped[str] = mapped_column(Text, default="")
    source: Mapped[str] = mapped_column(Text, default="")
    revision: Mapped[int]
    created: Mapped[str] = mapped_column(String(32), default=now)
    updated: Mapped[str] = mapped_column(String(32), default=now)
    deleted: Mapped[str | None] = mapped_column(String(32), default=None)


class RevisionRow(Base):
    """A state of a style's piece sheet. ``parent`` is the revision it was made from: undo goes to
    it, redo to the newest revision made from the present one. None is ever thrown away."""

    __tablename__ = "revision"

    style_id: Mapped[str] = mapped_column(ForeignKey("style.id"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True)
    parent: Mapped[int | None] = mapped_column(default=None)
    sheet: Mapped[dict[str, Any]]
    created: Mapped[str] = mapped_column(String(32), default=now)


class LayRow(Base):
    """A search over one revision of a style on given cloths."""

    __tablename__ = "lay"
    __table_args__ = (Index("ix_lay_style_id", "style_id"),)

    id: Mapped[str] = mapped_column(String(32), primary_key=True, default=new_id)
    style_id: Mapped[str] = mapped_column(ForeignKey("style.id"))
    revision: Mapped[int]
    style: Mapped[str] = mapped_column(Text)
    request: Mapped[dict[str, Any]]
    state: Mapped[str] = mapped_column(String(16), default="queued")
    error: Mapped[dict[str, Any] | None] = mapped_column(default=None)
    created: Mapped[str] = mapped_column(String(32), default=now)
    updated: Mapped[str] = mapped_column(String(32), default=now)
    deleted: Mapped[str | None] = mapped_column(String(32), default=None)


class ClothResultRow(Base):
    """The best layout so far of one cloth of a lay, in the form it is sent."""

    __tablename__ = "cloth_result"

    lay_id: Mapped[str] = mapped_column(ForeignKey("lay.id"), primary_key=True)
    cloth: Mapped[str] = mapped_column(String(200), primary_key=True)
    position: Mapped[int]
    result: Mapped[dict[str, Any]]
    updated: Mapped[str] = mapped_column(String(32), default=now)


class MapRow(Base):
    """A table map; ``data`` holds the map, how it was found and what it left over."""

    __tablename__ = "table_map"

    id: Mapped[str] = mapped_column(String(32), primary_key=True, default=new_id)
    name: Mapped[str] = mapped_column(Text)
    route: Mapped[str] = mapped_column(String(16))
    data: Mapped[dict[str, Any]]
    created: Mapped[str] = mapped_column(String(32), default=now)
    used: Mapped[str] = mapped_column(String(32), default=now)
    deleted: Mapped[str | None] = mapped_column(String(32), default=None)


class CheckRow(Base):
    """A check of a map. A line measured on the table has its two lengths; any other has what it
    ``found`` (label, state, words, figures), and in ``measured_mm`` how far the light was off."""

    __tablename__ = "map_check"

    id: Mapped[str] = mapped_column(String(32), primary_key=True, default=new_id)
    map_id: Mapped[str] = mapped_column(ForeignKey("table_map.id"))
    line: Mapped[str] = mapped_column(String(64))
    nominal_mm: Mapped[float] = mapped_column(Double)
    measured_mm: Mapped[float] = mapped_column(Double)
    found: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True), default=None)
    when: Mapped[str] = mapped_column(String(32), default=now)


class CuttingRow(Base):
    """The cutting of one cloth of a lay. ``number`` rises with every change; ``data`` holds where
    the walk stands, the marks of the ledger and, once approved, the layout that is cut by."""

    __tablename__ = "cutting"

    lay_id: Mapped[str] = mapped_column(ForeignKey("lay.id"), primary_key=True)
    cloth: Mapped[str] = mapped_column(String(200), primary_key=True)
    number: Mapped[int]
    data: Mapped[dict[str, Any]]
    updated: Mapped[str] = mapped_column(String(32), default=now)


class NoteRow(Base):
    """Small facts about the store itself, such as that the demo wardrobe was loaded once."""

    __tablename__ = "note"

    name: Mapped[str] = mapped_column(String(64), primary_key=True)
    value: Mapped[str] = mapped_column(Text)


class InviteRow(Base):
    """A way in for one more device, good once."""

    __tablename__ = "invite"

    token_hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    name: Mapped[str] = mapped_column(Text)
    created: Mapped[str] = mapped_column(String(32), default=now)
    expires: Mapped[str] = mapped_column(String(32))
    used: Mapped[str | None] = mapped_column(String(32), default=None)


class DeviceRow(Base):
    """A device that was let in."""

    __tablename__ = "device"
    __table_args__ = (Index("ix_device_token_hash", "token_hash", unique=True),)

    id: Mapped[str] = mapped_column(String(32), primary_key=True, default=new_id)
    token_hash: Mapped[str] = mapped_column(String(64))
    name: Mapped[str] = mapped_column(Text)
    role: Mapped[str] = mapped_column(String(16))
    created: Mapped[str] = mapped_column(String(32), default=now)
    expires: Mapped[str] = mapped_column(String(32))
    revoked: Mapped[str | None] = mapped_column(String(32), default=None)
