"""Letters: the same pixels on any machine, where their order allows it."""

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont, features

from printplan.errors import SpecError
from printplan.pixels.typeface import font_at, font_path, require_writable


def written(font, words):
    sheet = Image.new("L", (900, 60), 0)
    ImageDraw.Draw(sheet).text((5, 45), words, 255, font, anchor="ls")
    return np.asarray(sheet)


@pytest.mark.parametrize("words", ["Grüße 3/7 · 60 × 39 mm", "Γειά, Ćwikła, 24 µm"])
def test_letters_are_laid_out_alike_on_any_machine(words):
    """Raqm, which spaces them otherwise, works where the system has FriBiDi."""
    plain = ImageFont.truetype(font_path(), 30, layout_engine=ImageFont.Layout.BASIC)
    font = font_at(30, words=words)
    assert font.layout_engine == ImageFont.Layout.BASIC
    assert np.array_equal(written(font, words), written(plain, words))
    assert font_at(30) is font


@pytest.mark.skipif(not features.check("raqm"), reason="wants the system's FriBiDi")
@pytest.mark.parametrize("words", ["שלום 3/7", "3/7 سلام"])
def test_words_from_right_to_left_keep_their_order(words):
    assert font_at(30, words=words).layout_engine == ImageFont.Layout.RAQM


def test_words_that_would_be_printed_in_the_wrong_order_are_refused(monkeypatch):
    monkeypatch.setattr(features, "check", lambda _: False)
    require_writable("Grüße 3/7")
    with pytest.raises(SpecError, match="from right to left") as refused:
        require_writable("שלום 3/7")
    assert "FriBiDi" in refused.value.remedy
