"""The printable board, printed to pixels by an independent reader and found by the detector."""

from __future__ import annotations

import cv2
import numpy as np
import pypdfium2
import pytest

from calibration.boards import Board, sheet
from calibration.corners import find_printed
from service.formats.board_pdf import board_pdf


def rendered(data: bytes, px_per_mm: float) -> np.ndarray:
    document = pypdfium2.PdfDocument(data)
    assert len(document) == 1
    picture = document[0].render(scale=px_per_mm * 25.4 / 72, grayscale=True).to_numpy()
    document.close()
    return np.ascontiguousarray(picture[..., 0] if picture.ndim == 3 else picture)


@pytest.mark.parametrize("paper", ["A4", "A3", "Letter"])
def test_the_page_is_the_paper_and_the_squares_are_true(paper: str) -> None:
    page = sheet(paper)  # type: ignore[arg-type]
    scale = 4.0
    picture = rendered(board_pdf(page), scale)
    height, width = picture.shape
    assert (width / scale, height / scale) == pytest.approx(
        (page.width_mm, page.height_mm), abs=0.6
    )
    picture = cv2.GaussianBlur(picture, (0, 0), 1.0)
    found = find_printed(picture, Board(9, 6, page.square_mm, page.square_mm)).camera_px
    grid = found.reshape(6, 9, 2) / scale
    # The reader snaps each edge to whole px (a quarter mm); over the board that must not add up.
    steps = np.diff(grid, axis=1).reshape(-1, 2)
    np.testing.assert_allclose(steps, [(page.square_mm, 0)] * 48, atol=0.26)
    np.testing.assert_allclose(grid[:, -1] - grid[:, 0], [(8 * page.square_mm, 0)] * 6, atol=0.26)


def test_the_same_sheet_gives_the_same_bytes() -> None:
    assert board_pdf(sheet("A4")) == board_pdf(sheet("A4"))


def test_words_beside_the_lines_ask_for_measuring() -> None:
    document = pypdfium2.PdfDocument(board_pdf(sheet("A3")))
    words = document[0].get_textpage().get_text_bounded()
    document.close()
    assert "10 squares" in words
    assert "7 squares" in words
    assert "Measure this line" in words
