"""A posted photo with what is wished of it: a form of two parts, the wish as JSON."""

from __future__ import annotations

from typing import Any, TypeVar

from fastapi import Request
from pydantic import ValidationError
from starlette.datastructures import UploadFile

from service.errors import RefusedError
from service.schemas import Wire

Wish = TypeVar("Wish", bound=Wire)


def photo_body(wish: str) -> dict[str, Any]:
    """The form as the schema describes it; ``wish`` names the shape of its second part."""
    return {
        "requestBody": {
            "required": True,
            "content": {
                "multipart/form-data": {
                    "schema": {
                        "type": "object",
                        "required": ["photo", "wish"],
                        "properties": {
                            "photo": {"type": "string", "format": "binary"},
                            "wish": {"type": "string", "description": f"a {wish} as JSON"},
                        },
                    }
                }
            },
        }
    }


async def posted_photo(request: Request, shape: type[Wish]) -> tuple[bytes, str, Wish]:
    """Bytes and name of the photo, and the wish. Raises RefusedError naming what is missing."""
    async with request.form(max_files=1, max_fields=4) as form:
        photo, wish = form.get("photo"), form.get("wish")
        if not isinstance(photo, UploadFile) or not isinstance(wish, str):
            raise RefusedError(
                "a photo and how to look at it are needed", where="photo", hint="Choose a photo."
            )
        return await photo.read(), photo.filename or "photo", _read(wish, shape)


def _read(text: str, shape: type[Wish]) -> Wish:
    try:
        return shape.model_validate_json(text)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"]) or "wish"
        raise RefusedError(
            f"{where}: {first['msg']}", where=where, hint="Fill in the board's counts and lengths."
        ) from error
