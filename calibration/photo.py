"""From the bytes of a photo to grey pixels, with its size known before anything is unpacked."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from calibration.boards import Image
from calibration.errors import PhotoError

MOST_PIXELS = 60_000_000
"""A photo of more is not a phone's: a small file may unpack to gigabytes."""

MOST_BYTES = 40_000_000
"""Larger files are not photos as phones take them."""

LEAST_SIDE = 320
"""Fewer pixels across cannot show a board."""

Kind = Literal["JPEG", "PNG", "WEBP"]


@dataclass(frozen=True, slots=True)
class Header:
    """What a photo says of itself before it is unpacked."""

    kind: Kind
    width: int
    height: int


def read_header(data: bytes, *, where: str = "photo") -> Header:
    """Kind and size of a photo. Raises PhotoError for anything but JPEG, PNG and WEBP."""
    kind: Kind
    try:
        if data[:3] == b"\xff\xd8\xff":
            kind, size = "JPEG", _jpeg_size(data)
        elif data[:8] == b"\x89PNG\r\n\x1a\n":
            kind, size = "PNG", struct.unpack(">II", data[16:24])
        elif data[:4] == b"RIFF" and data[8:12] == b"WEBP":
            kind, size = "WEBP", _webp_size(data)
        else:
            raise PhotoError(
                _not_a_photo(data),
                code="photo.kind",
                where=where,
                hint="Save or send the photo as JPEG, PNG or WEBP.",
            )
    except (struct.error, IndexError, ValueError) as broken:
        raise PhotoError(
            "The photo's file is damaged: it does not say how large the picture is.",
            code="photo.broken",
            where=where,
            hint="Take the photo again, or send it again.",
        ) from broken
    return Header(kind, int(size[0]), int(size[1]))


def check_size(header: Header, *, bytes_: int, where: str = "photo") -> None:
    """Raise PhotoError when a photo is too large to unpack safely, or too small to show a board."""
    if header.width * header.height > MOST_PIXELS or bytes_ > MOST_BYTES:
        raise PhotoError(
            f"The photo is {header.width} x {header.height} px in {bytes_ / 1e6:.0f} MB; at most "
            f"{MOST_PIXELS / 1e6:.0f} million px and {MOST_BYTES / 1e6:.0f} MB are taken.",
            code="photo.too-large",
            where=where,
            hint="Set the phone's camera to an ordinary photo size (12 megapixels are plenty).",
        )
    if min(header.width, header.height) < LEAST_SIDE:
        raise PhotoError(
            f"The photo is only {header.width} x {header.height} px.",
            code="photo.too-small",
            where=where,
            hint="Send the photo itself, not its preview.",
        )


def decode(data: bytes, *, where: str = "photo") -> Image:
    """Grey pixels (height, width) of a photo, as the sensor saw them.

    The turn that a camera notes in the file is not applied: the lens' centre and bend belong to the
    sensor, and photos of one camera held both ways must agree. A page that draws corners over the
    photo must therefore show it unturned too (CSS ``image-orientation: none``). Raises PhotoError.
    """
    header = read_header(data, where=where)
    check_size(header, bytes_=len(data), where=where)
    flags = cv2.IMREAD_GRAYSCALE | cv2.IMREAD_IGNORE_ORIENTATION
    try:
        grey = cv2.imdecode(np.frombuffer(data, dtype=np.uint8), flags)
    except cv2.error:
        grey = None
    if grey is None or grey.shape != (header.height, header.width):
        raise PhotoError(
            "The photo's file is damaged: the picture in it is incomplete.",
            code="photo.broken",
            where=where,
            hint="Take the photo again, or send it again.",
        )
    return np.asarray(grey, dtype=np.uint8)


def as_grey(
    image: np.ndarray[tuple[int, ...], np.dtype[np.uint8]], *, where: str = "photo"
) -> Image:
    """Grey pixels of an array (height, width) or (height, width, 3 | 4) in blue, green, red order."""
    if image.dtype != np.uint8 or image.ndim not in (2, 3) or 0 in image.shape:
        raise PhotoError(
            f"A picture is an array of 8-bit pixels; {image.dtype} of shape {image.shape} came.",
            code="photo.array",
            where=where,
        )
    if image.ndim == 2:
        return np.ascontiguousarray(image)
    if image.shape[2] not in (3, 4):
        raise PhotoError("A colour picture has three or four channels.", code="photo.array")
    turn = cv2.COLOR_BGR2GRAY if image.shape[2] == 3 else cv2.COLOR_BGRA2GRAY
    return np.asarray(cv2.cvtColor(image, turn), dtype=np.uint8)


def _not_a_photo(data: bytes) -> str:
    if not data:
        return "The photo's file is empty."
    if data[4:8] == b"ftyp" and data[8:12] in (b"heic", b"heix", b"mif1", b"hevc", b"msf1"):
        return "The photo is in the HEIC form, which cannot be read here."
    return "This file is not a photo in JPEG, PNG or WEBP form."


def _jpeg_size(data: bytes) -> tuple[int, int]:
    """Walk the segments to the start of frame (ITU-T T.81, annex B)."""
    at = 2
    while True:
        while data[at] == 0xFF and data[at + 1] == 0xFF:
            at += 1
        if data[at] != 0xFF:
            raise ValueError("no marker")
        marker = data[at + 1]
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            height, width = struct.unpack(">HH", data[at + 5 : at + 9])
            return width, height
        if marker in (0xD9, 0xDA):
            raise ValueError("no frame")
        at += 2 + struct.unpack(">H", data[at + 2 : at + 4])[0]


def _webp_size(data: bytes) -> tuple[int, int]:
    """Size from the first chunk (RFC 9649): extended, lossless or lossy."""
    chunk = data[12:16]
    if chunk == b"VP8X":
        return (
            1 + int.from_bytes(data[24:27], "little"),
            1 + int.from_bytes(data[27:30], "little"),
        )
    if chunk == b"VP8L":
        bits = struct.unpack("<I", data[21:25])[0]
        return 1 + (bits & 0x3FFF), 1 + ((bits >> 14) & 0x3FFF)
    if chunk == b"VP8 ":
        width, height = struct.unpack("<HH", data[26:30])
        return width & 0x3FFF, height & 0x3FFF
    raise ValueError("no picture chunk")
