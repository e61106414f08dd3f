"""Photos as bytes: kinds, sizes known before unpacking, damage, and the camera's noted turn."""

from __future__ import annotations

import struct
import zlib

import cv2
import numpy as np
import pytest

from calibration.errors import PhotoError
from calibration.photo import as_grey, check_size, decode, read_header

PICTURE = np.tile(np.arange(400, dtype=np.uint8) % 251, (360, 1))


def encoded(kind: str) -> bytes:
    return cv2.imencode(kind, PICTURE)[1].tobytes()


@pytest.mark.parametrize(("ending", "kind"), [(".jpg", "JPEG"), (".png", "PNG"), (".webp", "WEBP")])
def test_kind_and_size_are_read_before_unpacking(ending: str, kind: str) -> None:
    header = read_header(encoded(ending))
    assert (header.kind, header.width, header.height) == (kind, 400, 360)
    assert decode(encoded(ending)).shape == (360, 400)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"GIF89a" + bytes(40), "not a photo in JPEG"),
        (bytes(4) + b"ftypheic" + bytes(20), "HEIC"),
        (b"\xff\xd8\xff", "damaged"),
        (b"\xff\xd8\xff\xd9", "damaged"),
        (b"RIFF\0\0\0\0WEBPVP8?" + bytes(30), "damaged"),
        (encoded(".jpg")[:900], "damaged"),
        (encoded(".png")[:200], "damaged"),
    ],
)
def test_what_is_no_photo_is_refused_in_words(data: bytes, words: str) -> None:
    with pytest.raises(PhotoError, match=words) as caught:
        decode(data, where="table.jpg")
    assert caught.value.where == "table.jpg"


def test_a_small_file_that_would_unpack_to_gigabytes_is_refused_unopened() -> None:
    """opencv/opencv issue 13381: the limit is there against just that."""
    head = struct.pack(">IIBBBBB", 30000, 30000, 8, 0, 0, 0, 0)
    chunk = b"IHDR" + head
    bomb = (
        b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk + struct.pack(">I", zlib.crc32(chunk))
    )
    with pytest.raises(PhotoError, match="30000 x 30000") as caught:
        decode(bomb)
    assert caught.value.code == "photo.too-large"


def test_a_thumbnail_is_refused() -> None:
    check_size(read_header(encoded(".png")), bytes_=1000)
    tiny = cv2.imencode(".png", PICTURE[:100, :100])[1].tobytes()
    with pytest.raises(PhotoError, match="only 100 x 100 px") as caught:
        decode(tiny)
    assert "not its preview" in caught.value.hint


def test_convention_the_noted_turn_is_not_applied() -> None:
    """opencv/opencv issue 28644: portrait and landscape mixed in one fit gave 11.96 px for 2.35."""
    plain = encoded(".jpg")
    exif = b"Exif\0\0" + b"II*\0\x08\0\0\0" + struct.pack("<HHHII", 1, 0x0112, 3, 1, 6) + bytes(4)
    turned = plain[:2] + b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif + plain[2:]
    assert cv2.imdecode(np.frombuffer(turned, np.uint8), cv2.IMREAD_GRAYSCALE).shape == (400, 360)
    np.testing.assert_array_equal(decode(turned), decode(plain))


def test_arrays_are_taken_in_grey_and_colour_only_with_eight_bits() -> None:
    colour = np.dstack([PICTURE] * 3)
    np.testing.assert_array_equal(as_grey(colour), PICTURE)
    np.testing.assert_array_equal(as_grey(np.dstack([PICTURE] * 4)), PICTURE)
    for wrong in (PICTURE.astype(np.float32), PICTURE.astype(np.uint16), PICTURE[:0], PICTURE[0]):
        with pytest.raises(PhotoError, match="8-bit"):
            as_grey(wrong)
    with pytest.raises(PhotoError, match="three or four"):
        as_grey(np.dstack([PICTURE] * 2))
