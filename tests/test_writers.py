"""Masters as libraries of others write them: the same picture, or a reason."""

import importlib.util

import outside_tools
import pytest
import written_by_vips
import written_png_jpeg
import written_tiff
from written_cases import PROFILES, complaint

# What a library's name in Python is, and the files that it is asked for.
WRITERS = {
    "tifffile": ("tifffile", [written_tiff.of_tifffile]),
    "Pillow": ("PIL", [written_tiff.of_pillow, written_png_jpeg.of_pillow]),
    "libvips": ("pyvips", [written_by_vips.of_vips]),
    "OpenCV": ("cv2", [written_by_vips.of_opencv]),
    "imagecodecs": ("imagecodecs", [written_png_jpeg.of_imagecodecs]),
    "pypng": ("png", [written_png_jpeg.of_pypng]),
    "simplejpeg": ("simplejpeg", [written_png_jpeg.of_simplejpeg]),
    "tiffcp": ("tifffile", [written_tiff.of_tiffcp]),
}


def cases_of(library):
    return [case for cases in WRITERS[library][1] for case in cases()]


def marked(library):
    marks = [pytest.mark.slow]
    if library == "tiffcp":
        marks.append(pytest.mark.tools("tiffcp"))
    return pytest.param(library, marks=marks)


@pytest.mark.parametrize("library", map(marked, WRITERS))
def test_master_is_the_picture_its_writer_was_given_or_refused(library, tmp_path):
    if importlib.util.find_spec(WRITERS[library][0]) is None:
        outside_tools.missing(f"{library} not found: python -m pip install '.[tests]'")
    (tmp_path / "grey.icc").write_bytes(PROFILES[1])
    (tmp_path / "rgb.icc").write_bytes(PROFILES[3])
    wrong = {
        case.name: why
        for case in cases_of(library)
        if (why := complaint(case, tmp_path))
    }
    if wrong:
        pytest.fail(
            "\n".join(f"{name}: {why}" for name, why in wrong.items()), pytrace=False
        )
