"""Photos from the disk, pictures to the disk; what cannot be read or written is said by its name."""

from __future__ import annotations

from pathlib import Path

from calibration.errors import PhotoError
from service.errors import RefusedError


def read_photo(photo: Path) -> bytes:
    """Bytes of a photo's file. Raises PhotoError."""
    try:
        return photo.read_bytes()
    except OSError as missing:
        raise PhotoError(
            f"The photo {photo.name} cannot be read: {missing.strerror}.",
            code="photo.unreadable",
            where=photo.name,
            hint="Check the name.",
        ) from missing


def write_picture(picture: Path, png: bytes) -> None:
    """Write a PNG. Raises RefusedError for a name that is none or a place that cannot be written."""
    if picture.suffix.lower() != ".png":
        raise RefusedError(
            f"the picture to light is a PNG; {picture.name} was named",
            where=picture.name,
            hint="End the name in .png.",
        )
    try:
        picture.write_bytes(png)
    except OSError as refused:
        raise RefusedError(
            f"{picture.name} cannot be written: {refused.strerror}",
            where=picture.name,
            hint="Check the directory.",
        ) from refused
