"""The margin and scale page, drawn by another program and read like a person reads."""

import re
import subprocess
from dataclasses import replace
from datetime import date

import numpy as np
import pikepdf
import pytest
from outside_tools import need
from PIL import Image

from printplan.checks import Level
from printplan.errors import RecordError, SpecError
from printplan.media import Margins
from printplan.record.margin_page import margin_page
from printplan.record.margin_sheet import (
    SHORTEST_ALONG_MM,
    SHORTEST_EDGE_MM,
    _larger,
    ruler_mm,
    sheet_on_feed_mm,
    usual_sheet,
)
from printplan.record.margins_read import (
    MarginReadings,
    margins_read,
    use_margins,
)
from printplan.record.paper_book import PaperBook, read_paper_book, write_paper_book
from printplan.record.printer_classes import PrinterClass, draft_of_class
from printplan.units import LengthUnit

Image.MAX_IMAGE_PIXELS = None

PPI = 600
PX_PER_MM = PPI / 25.4
ON = date(2026, 11, 29)
PRINTER = draft_of_class(PrinterClass.ROLL_24, "The tall one").printer
FEEDER, STRAIGHT, ROLL = PRINTER.feeds
A5 = (148.0, 210.0)  # ISO 216


def drawn(path, *, ppi=PPI):
    """The page as poppler draws it: rows by columns, 0 is black."""
    need("pdftoppm")
    target = path.with_suffix("")
    command = ["pdftoppm", "-r", str(ppi), "-gray", "-singlefile", path, target]
    subprocess.run(command, check=True)
    with Image.open(target.with_suffix(".pgm")) as picture:
        return np.array(picture)


def page(folder, sheet="A5", feed=FEEDER, unit=LengthUnit.MM):
    path = folder / "page.pdf"
    return margin_page(PRINTER, feed, sheet, path, made_on=ON, unit=unit)


@pytest.fixture(scope="module")
def a5(tmp_path_factory):
    return page(tmp_path_factory.mktemp("page"))


@pytest.fixture(scope="module")
def drawing(a5):
    """That page as it is drawn."""
    return drawn(a5)


def runs(dark):
    """Begin and end of each run of dark pixels, end excluded."""
    steps = np.diff(np.concatenate([[0], dark.astype(np.int8), [0]]))
    return list(
        zip(np.flatnonzero(steps == 1), np.flatnonzero(steps == -1), strict=True)
    )


def line_mm(pixels, *, down):
    """Length of a crossing line, from the outside of one end mark to the other's."""
    rows, columns = pixels.shape
    profile = pixels[:, columns // 2] if down else pixels[rows // 2, :]
    begin, end = max(runs(profile < 128), key=lambda run: run[1] - run[0])
    return (end - begin) / PX_PER_MM


@pytest.mark.tools("pdftoppm")
def test_the_page_has_the_sheets_size_and_lines_of_100_mm(a5, drawing):
    with pikepdf.open(a5) as pdf:
        assert len(pdf.pages) == 1
        box = [float(edge) for edge in pdf.pages[0].MediaBox]
    # A point is 1/72 in (ISO 32000-1, 8.3.2.3), written here to a hundredth.
    assert box == pytest.approx([0, 0, 148 / 25.4 * 72, 210 / 25.4 * 72], abs=0.01)
    assert line_mm(drawing, down=False) == pytest.approx(100, abs=1 / PX_PER_MM)
    assert line_mm(drawing, down=True) == pytest.approx(100, abs=1 / PX_PER_MM)


def ruler(pixels, edge, *, base_mm=None, place=lambda mm, _: mm, size_mm=A5):
    """
    Lines of an edge's ruler, by their distance from that edge of the paper.

    Rulers stand at a quarter of the edge and begin with their lines; the shortest
    lines are 2.5 mm long. `place` says where on the paper a place of the page is.
    """
    down = edge in {"leading", "trailing"}
    width_mm, length_mm = size_mm if down else size_mm[::-1]
    base_mm = 0.25 * width_mm if base_mm is None else base_mm
    column = round(place(base_mm + 1.2, "x" if down else "y") * PX_PER_MM)
    profile = pixels[:, column] if down else pixels[column, :]
    end_mm = ruler_mm(size_mm) + 0.2
    axis = "y" if down else "x"
    if edge in {"leading", "left"}:
        profile = profile[: round(place(end_mm, axis) * PX_PER_MM)]
    else:
        profile = profile[round(place(length_mm - end_mm, axis) * PX_PER_MM) :][::-1]
    ink = 1 - profile / 255
    found = [(begin, end, ink[begin:end].sum()) for begin, end in runs(ink > 0.2)]
    whole = 0.6 * np.median([mass for *_, mass in found])
    # Half of the line at the page's own edge is beside the page.
    return [
        (begin + end) / 2 / PX_PER_MM
        for begin, end, mass in found
        if mass > whole or begin == 0
    ]


EDGES = ("leading", "trailing", "left", "right")


@pytest.mark.tools("pdftoppm")
@pytest.mark.parametrize("edge", EDGES)
def test_rulers_run_to_every_edge_in_half_millimetres(drawing, edge):
    """Lines at 0, 0.5, 1 ... mm; the half of the first one that is on the paper."""
    lines = ruler(drawing, edge)
    expected = np.arange(0, ruler_mm(A5) + 0.1, 0.5)
    assert len(lines) == len(expected)
    # The drawing's last row and column are whole pixels, the sheet's are not.
    assert np.allclose(lines, expected, atol=1.5 / PX_PER_MM)


@pytest.mark.tools("pdftoppm")
def test_rulers_in_inches_stand_beside_those_in_millimetres(tmp_path):
    """Fiftieths of an inch; read at 600 ppi, where they are 12 pixels apart."""
    path = page(tmp_path, "5x7 in", unit=LengthUnit.INCHES)
    sheet = (127.0, 177.8)
    pixels = drawn(path)
    lines = ruler(pixels, "leading", base_mm=0.25 * 127 + 13.5, size_mm=sheet)
    assert np.allclose(np.diff(lines[1:]), 0.508, atol=1.5 / PX_PER_MM)
    assert lines[-1] == pytest.approx(30 // 0.508 * 0.508, abs=1 / PX_PER_MM)


def words_of(path):
    """Words and their places in millimetres, as poppler reads them."""
    need("pdftotext")
    command = ["pdftotext", "-bbox", path, "-"]
    text = subprocess.run(command, check=True, capture_output=True).stdout.decode()
    found = re.findall(
        r'xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">([^<]+)<',
        text,
    )
    return [(word, *(float(it) / 72 * 25.4 for it in box)) for *box, word in found]


@pytest.mark.tools("pdftotext")
def test_edges_and_numbers_stand_where_they_belong(a5):
    words = words_of(a5)
    place = {word: (x0, y0, x1, y1) for word, x0, y0, x1, y1 in words}
    assert place["leading"][1] < place["crossing,"][1] < place["trailing"][1]
    assert place["left"][0] < place["right"][0]
    # "25" on the leading ruler is 25 mm from the top.
    tops = [(y0 + y1) / 2 for word, x0, y0, _, y1 in words if word == "25"]
    assert min(tops) == pytest.approx(25, abs=0.4)
    assert max(tops) == pytest.approx(210 - 25, abs=0.4)
    sides = [(x0 + x1) / 2 for word, x0, _, x1, _ in words if word == "25"]
    assert min(sides) == pytest.approx(25, abs=0.4)
    assert max(sides) == pytest.approx(148 - 25, abs=0.4)
    said = " ".join(word for word, *_ in words).replace("\xa0", " ")
    for wanted in (
        "Printer: The tall one",
        "Feed path: sheet feeder",
        "Sheet: A5",
        "2026-11-29",
        "this edge enters first",
        "at 100 %",
    ):
        assert wanted in said


# Sizes written by hand, since words of one may lie on another's.
@pytest.mark.tools("pdftotext")
@pytest.mark.parametrize("unit", LengthUnit)
@pytest.mark.parametrize(
    ("sheet", "feed"),
    [("5x7 in", FEEDER), ("A4", FEEDER), ("A2", STRAIGHT), ("24x8 in", ROLL)],
)
def test_words_do_not_lie_on_one_another(tmp_path, sheet, feed, unit):
    words = words_of(page(tmp_path, sheet, feed, unit))
    across_mm, along_mm = sheet_on_feed_mm(feed, sheet)
    slack = 0.3  # boxes hold room above and below the letters
    for number, (word, x0, y0, x1, y1) in enumerate(words):
        assert 0 <= x0 < x1 <= across_mm, word
        assert -1 <= y0 < y1 <= along_mm + 1, word
        for other, left, top, right, bottom in words[number + 1 :]:
            apart = (
                x1 - slack <= left
                or right - slack <= x0
                or y1 - 3 * slack <= top
                or bottom - 3 * slack <= y0
            )
            assert apart, (word, other)


@pytest.mark.tools("qpdf")
def test_qpdf_finds_no_fault(a5):
    need("qpdf")
    done = subprocess.run(["qpdf", "--check", a5], capture_output=True, check=True)
    assert b"No syntax or stream encoding errors found" in done.stdout


def test_the_same_day_gives_the_same_page(tmp_path, a5):
    assert page(tmp_path).read_bytes() == a5.read_bytes()


def test_a_page_that_is_there_is_not_replaced(a5):
    with pytest.raises(RecordError, match=r"exists already\. Choose another name"):
        margin_page(PRINTER, FEEDER, "A5", a5, made_on=ON)


# A printer that cuts its margins, and one that scales as well.


def printed(pixels, cut, *, scale=1.0, centre_mm=None):
    """What comes out of a printer, and where on the paper a place of the page is."""
    rows, columns = pixels.shape
    middle = {"x": A5[0] / 2, "y": A5[1] / 2}
    centre = centre_mm or (middle["x"], middle["y"])
    to = dict(zip("xy", centre, strict=True))

    def place(mm, axis):
        return to[axis] + scale * (mm - middle[axis])

    # PIL wants, for each pixel of the outcome, the place that it comes from.
    back = [(middle[axis] - to[axis] / scale) * PX_PER_MM for axis in "xy"]
    paper = np.array(
        Image.fromarray(pixels).transform(
            (columns, rows),
            Image.Transform.AFFINE,
            (1 / scale, 0, back[0], 0, 1 / scale, back[1]),
            resample=Image.Resampling.BICUBIC,
            fillcolor=255,
        )
    )
    leading, trailing, left, right = (
        round(getattr(cut, f"{edge}_mm") * PX_PER_MM) for edge in EDGES
    )
    paper[:leading] = paper[rows - trailing :] = 255
    paper[:, :left] = paper[:, columns - right :] = 255
    return paper, place


def read_off(paper, place):
    """What a person reads: the number of each ruler's first whole line."""
    numbers = {}
    for edge in EDGES:
        lines = ruler(paper, edge, place=place)
        # Counted from the ruler's end, whose number stands beside it.
        numbers[f"{edge}_mm"] = ruler_mm(A5) - 0.5 * (len(lines) - 1)
    return numbers


def long_line_mm(paper, place, *, down):
    at = place(A5[0] / 2, "x") if down else place(A5[1] / 2, "y")
    at = round(at * PX_PER_MM)
    profile = paper[:, at] if down else paper[at, :]
    begin, end = max(runs(profile < 128), key=lambda run: run[1] - run[0])
    return (end - begin) / PX_PER_MM


CUT = Margins(leading_mm=3.2, trailing_mm=14.1, left_mm=5.3, right_mm=4.6)


def differences(found):
    """How much wider each margin was found than it is."""
    return [getattr(found, f"{it}_mm") - getattr(CUT, f"{it}_mm") for it in EDGES]


@pytest.mark.tools("pdftoppm")
def test_margins_of_a_printer_are_found_again(drawing):
    paper, place = printed(drawing, CUT)
    readings = MarginReadings(**read_off(paper, place))
    read = margins_read(FEEDER, A5, readings, read_on=ON)
    # The first whole line lies at most half a millimetre inside the margin.
    assert all(-0.06 <= it <= 0.5 for it in differences(read.feed.margins))
    assert read.feed.margins_source == "test page of 2026-11-29"
    assert read.findings == ()
    assert (read.scale_across, read.scale_along) == (1, 1)


@pytest.mark.slow
@pytest.mark.tools("pdftoppm")
@pytest.mark.parametrize("corner", [False, True], ids=["middle", "corner"])
@pytest.mark.parametrize("scale", [0.97, 1.03])
def test_a_scaling_driver_is_found_out_and_its_margins_corrected(
    drawing, scale, corner
):
    """About the middle nothing else is measured; else the crossing of the lines."""
    centre = (A5[0] / 2 * scale, A5[1] / 2 * scale) if corner else None
    paper, place = printed(drawing, CUT, scale=scale, centre_mm=centre)
    across = long_line_mm(paper, place, down=False)
    along = long_line_mm(paper, place, down=True)
    assert across == pytest.approx(100 * scale, abs=0.1)
    readings = MarginReadings(
        **read_off(paper, place),
        line_across_mm=round(across, 1),
        line_along_mm=round(along, 1),
        cross_from_left_mm=round(centre[0], 1) if corner else None,
        cross_from_leading_mm=round(centre[1], 1) if corner else None,
    )
    read = margins_read(FEEDER, A5, readings, read_on=ON)
    found = dict(zip(EDGES, differences(read.feed.margins), strict=True))
    if scale < 1:
        # Where the page itself ends inside the margin, nothing is cut.
        ends = {
            "leading": place(0, "y"),
            "trailing": A5[1] - place(A5[1], "y"),
            "left": place(0, "x"),
            "right": A5[0] - place(A5[0], "x"),
        }
        cut = {edge for edge in EDGES if ends[edge] < getattr(CUT, f"{edge}_mm")}
        assert cut
        found = {edge: found[edge] for edge in cut}
    # A line is half a millimetre apart from the next, times the scale; lengths were
    # read to a tenth.
    assert all(-0.15 <= it <= 0.66 for it in found.values()), found
    warned = [it for it in read.findings if it.topic == "driver scales"]
    assert f"{100 * scale:.1f} mm" in warned[0].problem
    assert "scaling to 100 %" in warned[0].remedy
    assert warned[0].level is Level.WARN
    assert f"{100 * scale:.1f} %" in read.feed.margins_source
    noted = any(it.topic == "place of the page" for it in read.findings)
    assert noted is not corner


SOUND = MarginReadings(leading_mm=3, trailing_mm=14, left_mm=3.5, right_mm=3.5)


def test_margins_at_another_scale_are_those_of_the_formula():
    """By hand: A4, 97 %, middle: 148.5 - 0.97 (148.5 - 5) = 9.305, up to 9.4 mm."""
    a4 = (210.0, 297.0)
    readings = replace(SOUND, leading_mm=5, line_along_mm=97)
    read = margins_read(FEEDER, a4, readings, read_on=ON)
    assert read.feed.margins.leading_mm == 9.4
    assert read.feed.margins.left_mm == 3.5
    assert (read.scale_along, read.scale_across) == (0.97, 1)


def test_half_a_millimetre_is_no_other_scale():
    readings = replace(SOUND, line_along_mm=99.5, line_across_mm=100.5)
    read = margins_read(FEEDER, A5, readings, read_on=ON)
    assert read.findings == ()
    assert read.feed.margins.trailing_mm == 14


def test_a_page_that_lies_aside_is_told_and_reckoned_with():
    """4 mm towards the trailing edge: what is read at the leading edge lies 4 later."""
    readings = replace(SOUND, leading_mm=0, cross_from_leading_mm=105 + 4)
    read = margins_read(FEEDER, A5, readings, read_on=ON)
    assert read.feed.margins.leading_mm == 4
    assert read.feed.margins.trailing_mm == 10
    (found,) = read.findings
    assert found.topic == "page lies aside"
    assert "4.0 mm towards the trailing edge" in found.problem


def test_a_page_that_ends_before_the_margin_says_so():
    readings = replace(SOUND, left_mm=0, line_across_mm=95)
    read = margins_read(FEEDER, A5, readings, read_on=ON)
    topics = [it.topic for it in read.findings]
    assert "margin may be narrower" in topics
    assert read.feed.margins.left_mm == pytest.approx(148 * 0.05 / 2, abs=0.1)


def test_printing_without_borders_is_told():
    none = MarginReadings(leading_mm=0, trailing_mm=0, left_mm=0, right_mm=0)
    read = margins_read(FEEDER, A5, none, read_on=ON)
    assert [it.topic for it in read.findings] == ["no margins"]


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"leading_mm": -1}, r"leading edge is -1 mm.*from 0 to 35 mm"),
        ({"right_mm": 60}, r"right edge is 60 mm"),
        ({"trailing_mm": float("nan")}, r"trailing edge is nan mm"),
        ({"line_along_mm": 3.94}, r"along the feed was measured as 3.94 mm.*its unit"),
        ({"line_across_mm": 210}, r"across the feed was measured as 210 mm"),
        ({"cross_from_left_mm": 150}, r"crossing would lie 150 mm.*74 mm"),
        ({"cross_from_leading_mm": 80}, r"beside the paper.*crossing again"),
    ],
)
def test_impossible_readings_are_refused(wrong, said):
    with pytest.raises(SpecError, match=said):
        margins_read(FEEDER, A5, replace(SOUND, **wrong), read_on=ON)


def test_findings_speak_the_studios_unit():
    readings = replace(SOUND, line_along_mm=97)
    read = margins_read(FEEDER, A5, readings, read_on=ON, unit=LengthUnit.INCHES)
    assert "3.82 in long instead of 3.94 in" in read.findings[0].problem


def test_margins_go_into_the_book_and_comments_stay(tmp_path):
    book = tmp_path / "book.toml"
    write_paper_book(PaperBook(printers=(PRINTER,), papers=()), book)
    text = book.read_text("utf-8").replace(
        "narrowest_mm = 89 #", "narrowest_mm = 89 # mine:"
    )
    book.write_text(text, "utf-8")
    use_margins(book, PRINTER.name, margins_read(FEEDER, A5, SOUND, read_on=ON))
    feed = read_paper_book(book).printer(PRINTER.name).feed(FEEDER.name)
    assert feed == replace(
        FEEDER,
        margins=Margins(leading_mm=3, trailing_mm=14, left_mm=3.5, right_mm=3.5),
        margins_source="test page of 2026-11-29",
    )
    after = book.read_text("utf-8")
    assert "# mine" in after
    changed = set(after.splitlines()) ^ set(text.splitlines())
    assert all(
        re.match(r"(leading|trailing|left|right|margins)_", it) for it in changed
    )


# Sheets


def test_a_sheet_goes_in_by_its_short_edge_and_a_roll_by_its_width():
    assert sheet_on_feed_mm(FEEDER, "A4") == (210, 297)
    assert sheet_on_feed_mm(ROLL, "24x12 in") == pytest.approx((609.6, 304.8))
    assert sheet_on_feed_mm(ROLL, "12x36 in") == pytest.approx((304.8, 914.4))


@pytest.mark.parametrize(
    ("sheet", "said"),
    [
        ("A0", r"does not go through the sheet feeder.*such as A4"),
        ("4x6 in", r"101.6 × 152.4 mm as it goes in; the page needs 120 × 170 mm"),
        ("foolscap", r"not known"),
    ],
)
def test_a_sheet_that_cannot_hold_the_page_is_refused(sheet, said):
    with pytest.raises(SpecError, match=said):
        sheet_on_feed_mm(FEEDER, sheet)


def test_a_refused_sheet_is_told_in_the_studios_unit():
    with pytest.raises(SpecError, match="is 4 × 6 in as it goes in"):
        sheet_on_feed_mm(FEEDER, "4x6 in", LengthUnit.INCHES)


def test_a_path_for_small_sheets_alone_is_measured_by_hand():
    small = replace(FEEDER, widest_mm=102, longest_mm=153)
    with pytest.raises(SpecError, match="takes none: measure the white edges"):
        sheet_on_feed_mm(small, usual_sheet(small, LengthUnit.MM))


@pytest.mark.parametrize("unit", LengthUnit)
@pytest.mark.parametrize("kind", PrinterClass)
def test_the_usual_sheet_goes_through(kind, unit):
    for feed in draft_of_class(kind).printer.feeds:
        sheet_on_feed_mm(feed, usual_sheet(feed, unit))
    assert usual_sheet(ROLL, LengthUnit.INCHES) == "24x8.5 in"
    assert usual_sheet(ROLL, LengthUnit.MM) == "609.6x210 mm"
    inches = usual_sheet(FEEDER, LengthUnit.INCHES)
    assert (inches, usual_sheet(FEEDER, LengthUnit.MM)) == ("8.5x11 in", "A4")


def test_a_path_exactly_as_long_as_the_page_takes_a_larger_sheet(studio):
    feed = studio.book.printers[0].feeds[0]
    exact = replace(feed, widest_mm=SHORTEST_EDGE_MM, longest_mm=SHORTEST_ALONG_MM)
    assert _larger(exact).startswith("Name a larger sheet")
    short = replace(exact, longest_mm=SHORTEST_ALONG_MM - 1)
    assert "takes none" in _larger(short)
