"""Photos are looked at in a process of their own, which is ended when it takes too long."""

from __future__ import annotations

import time

import cv2
import numpy as np
import pytest

from calibration.boards import Board, pattern
from calibration.errors import DetectionError, PhotoError
from service.detection import detect_in_photo
from tests.calibration.pictures import draw, view

A4 = Board(9, 6, 24.0, 24.0)
THROWN = pattern((1920, 1080))


def jpeg(picture: np.ndarray) -> bytes:
    return cv2.imencode(".jpg", picture)[1].tobytes()


def test_a_photo_is_seen_in_the_worker_and_comes_back() -> None:
    seen = detect_in_photo(jpeg(draw(A4, view(A4))), A4, THROWN, allow_missing=True)
    assert seen.printed is not None
    assert seen.thrown is None
    assert len(seen.printed.camera_px) == 54
    assert seen.size_px == (800, 600)


def test_the_worker_s_refusal_arrives_whole() -> None:
    with pytest.raises(DetectionError) as caught:
        detect_in_photo(jpeg(np.full((480, 640), 10, np.uint8)), A4, None, where="photo 3")
    assert caught.value.code == "detection.dark"
    assert caught.value.where == "photo 3"


def test_a_worker_that_takes_too_long_is_ended() -> None:
    noise = np.random.default_rng(0).integers(0, 255, (2000, 3000), dtype=np.uint8)
    started = time.monotonic()
    with pytest.raises(DetectionError) as caught:
        detect_in_photo(jpeg(noise), A4, None, limit_seconds=0.4)
    assert caught.value.code == "detection.time"
    assert time.monotonic() - started < 20


def test_what_is_no_photo_starts_no_worker() -> None:
    with pytest.raises(PhotoError):
        detect_in_photo(b"GIF89a" + bytes(100), A4, None)
