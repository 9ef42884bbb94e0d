from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from printplan.errors import FitError, SpecError
from printplan.media import FeedPath, Margins, Paper, PaperOnPrinter, Printer, Surface
from printplan.plan import MOST_PIXELS, resolve
from printplan.sizing.boxes import Box
from printplan.spec import (
    DeliverySpec,
    Extent,
    MasterFacts,
    Orientation,
    Placement,
    PrintSpec,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)

# The international inch, exact by definition (1959).
MM_PER_INCH = 25.4

# The studio, its printer and its paper are invented.
MARGINS = Margins(leading_mm=4, trailing_mm=14, left_mm=5, right_mm=6)
NO_MARGINS = Margins(leading_mm=0, trailing_mm=0, left_mm=0, right_mm=0)
FEED = FeedPath(
    name="slot",
    margins=MARGINS,
    shortest_mm=100,
    longest_mm=900,
    narrowest_mm=89,
    widest_mm=610,
    thinnest_um=80,
    thickest_um=1500,
)
PRINTER = Printer(
    name="Studio 24",
    black_inks=("matte black", "photo black"),
    feeds=(FEED, replace(FEED, name="borderless", margins=NO_MARGINS)),
    input_ppi=(300.0, 360.0),
)
PAIR = PaperOnPrinter(
    printer="Studio 24",
    profile="fen.icc",
    black_ink="matte black",
    media_type="Cotton, thick",
    feeds=("slot",),
)
PAPER = Paper(
    name="Fen Cotton 310",
    surface=Surface.MATTE,
    weight_gsm=310,
    thickness_um=560,
    psf_sigma_um=50,
    on_printer=(replace(PAIR, printer="Studio 17", profile="other.icc"), PAIR),
)


def facts(width_px=6000, height_px=4000):
    return MasterFacts(
        path="master.tif",
        sha256="0" * 64,
        file_format="TIFF",
        width_px=width_px,
        height_px=height_px,
        channels=3,
        bits=16,
        is_float=False,
        orientation_flag=1,
        profile_name="ROMM RGB",
        profile_sha256="0" * 64,
        profile_is_assumed=False,
        profile_is_table=False,
        alpha_was_flattened=False,
        clipped_share=0.0,
        page_count=1,
        creator="",
        copyright_notice="",
        has_location=False,
    )


def spec(*, ppi=300.0, width_mm=240.0, extent=Extent.SHEET, radius_mm=0.127, **sheet):
    return PrintSpec(
        size=SizeSpec(rule=SizeRule.WIDTH, width_mm=width_mm, ppi=ppi),
        sharpen=SharpenSpec(radius_mm=radius_mm),
        sheet=SheetSpec(**({"media_size": "A3", "feed": "slot"} | sheet)),
        delivery=DeliverySpec(extent=extent),
    )


def plan(wish=None, **changes):
    return resolve(facts(), PAPER, PRINTER, wish or spec(**changes))


def test_sheet_is_cut_into_whole_pixels():
    """A3 is 297 × 420 mm (ISO 216), here turned as the picture lies."""
    made = plan()
    assert made.layout.orientation is Orientation.LANDSCAPE
    assert made.page_mm == (420, 297)
    # 420 mm are 4960.63 px at 300 ppi, 297 mm are 3507.87.
    assert made.file_box == made.sheet_px == Box(0, 0, 4961, 3508)
    # The picture is 240 × 160 mm in the middle: from 90 mm and 68.5 mm on, which
    # are 1062.99 and 809.06 px, to 330 mm and 228.5 mm, 3897.64 and 2698.82 px.
    assert made.picture == made.picture_in_file == Box(1063, 809, 2835, 1890)


def test_file_of_the_picture_alone_begins_at_its_border():
    made = plan(extent=Extent.PICTURE, border_mm=10)
    # 80 mm and 58.5 mm are 944.88 and 690.94 px; 340 mm and 238.5 mm 4015.75 and
    # 2816.93 px.
    assert made.file_box == Box(945, 691, 3071, 2126)
    assert made.picture == Box(1063, 809, 2835, 1890)
    assert made.picture_in_file == Box(118, 118, 2835, 1890)
    width_mm, height_mm = made.page_mm
    assert width_mm == pytest.approx(3071 * MM_PER_INCH / 300, rel=1e-12)
    assert height_mm == pytest.approx(2126 * MM_PER_INCH / 300, rel=1e-12)


def test_plan_holds_what_it_was_made_from():
    wish = spec(radius_mm=0.2, ppi=360)
    made = plan(wish)
    assert made.spec is wish
    assert made.delivery is wish.delivery
    assert (made.facts, made.paper, made.printer) == (facts(), PAPER, PRINTER)
    assert made.setup is PAIR
    assert made.feed is FEED
    assert made.ppi == 360
    assert made.radius_px == pytest.approx(0.2 * 360 / MM_PER_INCH)


def test_enlargement_is_print_pixels_per_master_pixel():
    """6000 px on 240 mm are 635 to the inch, by the definition of the inch."""
    made = plan()
    assert made.effective_ppi == pytest.approx(6000 * MM_PER_INCH / 240)
    assert made.enlargement == pytest.approx(300 / made.effective_ppi, rel=1e-3)
    cropped = plan(
        replace(
            spec(),
            size=SizeSpec(rule=SizeRule.FILL, width_mm=100, height_mm=200, ppi=300),
        )
    )
    # Of 6000 × 4000 px, 2000 × 4000 are left: 2000 px on 100 mm.
    assert cropped.effective_ppi == pytest.approx(2000 * MM_PER_INCH / 100)
    assert cropped.enlargement == pytest.approx(1181 / 2000)


def test_custom_sheet_may_be_given_either_way_round():
    """Its shorter edge is its width in portrait, whichever is typed first."""
    sizes = {"media_size": "custom", "width_mm": 500, "height_mm": 300}
    sheet = {"feed": "slot", "orientation": Orientation.PORTRAIT}
    wide = SheetSpec(**(sizes | sheet))
    tall = SheetSpec(**(sizes | {"width_mm": 300, "height_mm": 500} | sheet))
    made = [plan(replace(spec(), sheet=it)) for it in (wide, tall)]
    assert made[0].layout == made[1].layout
    assert made[0].page_mm == (300, 500)
    turned = replace(wide, orientation=Orientation.LANDSCAPE)
    assert plan(replace(spec(), sheet=turned)).page_mm == (500, 300)


def test_margins_are_those_of_the_feed_path():
    assert plan(feed="slot").layout.printable.left_mm == 14
    assert plan(feed="borderless").layout.printable.left_mm == 0
    with pytest.raises(FitError, match=r"at most 392\.0 × 261\.3 mm"):
        plan(width_mm=393)
    assert plan(width_mm=420, feed="borderless").picture == Box(0, 100, 4961, 3307)


@pytest.mark.parametrize(
    ("change", "remedy"),
    [
        ({"feed": "sloot"}, "Choose one of: slot, borderless."),
        ({"media_size": "A33"}, 'Did you mean "A3"?'),
        ({"width_mm": 700.0}, "Choose a picture of at most 392.0 × 261.3 mm"),
    ],
)
def test_what_is_not_there_is_refused(change, remedy):
    with pytest.raises(SpecError) as caught:
        plan(**change)
    assert remedy in caught.value.remedy


def test_paper_that_was_never_set_up_for_the_printer_is_refused():
    with pytest.raises(SpecError, match=r"for Studio 17\. Add them to the paper book"):
        resolve(
            facts(), replace(PAPER, on_printer=PAPER.on_printer[:1]), PRINTER, spec()
        )


def test_master_without_pixels_is_refused():
    with pytest.raises(SpecError, match="Choose a master with pixels"):
        resolve(facts(0, 10), PAPER, PRINTER, spec())


def huge(ppi, edge_mm=10_000.0):
    """A small picture on a square sheet."""
    sheet = SheetSpec(
        media_size="custom", feed="slot", width_mm=edge_mm, height_mm=edge_mm
    )
    return replace(spec(ppi=ppi), sheet=sheet)


def test_absurd_number_of_pixels_is_refused_with_a_resolution_that_works():
    # 10 m are 118,110 px at 300 ppi: 14 thousand million on a square sheet, above
    # the 2 thousand million taken.
    with pytest.raises(
        SpecError, match=r"118110 × 118110 px, 13\.9 thousand"
    ) as caught:
        plan(huge(300))
    (ppi,) = [int(word) for word in caught.value.remedy.split() if word.isdigit()]
    assert plan(huge(ppi)).file_box.width ** 2 <= MOST_PIXELS
    with pytest.raises(SpecError):
        plan(huge(ppi + 1))


lengths_mm = st.floats(50, 900)


@st.composite
def wishes(draw):
    """Any print that is small enough to try."""
    placement = draw(st.sampled_from(Placement))
    moved = placement is Placement.OFFSET
    offsets = st.floats(-50, 50) if moved else st.just(0.0)
    return PrintSpec(
        size=SizeSpec(
            rule=SizeRule.FIT,
            width_mm=draw(st.floats(5, 900)),
            height_mm=draw(st.floats(5, 900)),
            ppi=draw(st.sampled_from([72, 240, 300, 360, 720]) | st.floats(30, 800)),
        ),
        sheet=SheetSpec(
            media_size="custom",
            feed=draw(st.sampled_from(["slot", "borderless"])),
            width_mm=draw(lengths_mm),
            height_mm=draw(lengths_mm),
            orientation=draw(st.sampled_from(Orientation)),
            placement=placement,
            offset_right_mm=draw(offsets),
            offset_down_mm=draw(offsets),
            border_mm=draw(st.sampled_from([0, 3, 10]) | st.floats(0, 40)),
        ),
        delivery=DeliverySpec(extent=draw(st.sampled_from(Extent))),
    )


pixels = st.integers(100, 20_000)


@pytest.mark.slow
@settings(max_examples=300)
@given(wishes(), pixels, pixels)
def test_every_plan_is_whole_pixels_within_half_of_one(wish, width_px, height_px):
    try:
        made = resolve(facts(width_px, height_px), PAPER, PRINTER, wish)
    except FitError:
        assume(False)
    # A strip thinner than a pixel gets one all the same.
    assume(min(made.picture_size.width_mm, made.picture_size.height_mm) > 1)
    px_per_mm = wish.size.ppi / MM_PER_INCH
    sheet, file, picture = made.sheet_px, made.file_box, made.picture
    layout = made.layout
    near = 0.5 + 1e-9
    assert (sheet.left, sheet.top) == (0, 0)
    assert abs(sheet.width - layout.width_mm * px_per_mm) <= near
    assert abs(sheet.height - layout.height_mm * px_per_mm) <= near
    assert abs(picture.left - layout.picture.left_mm * px_per_mm) <= near
    assert abs(picture.right - layout.picture.right_mm * px_per_mm) <= near
    assert abs(picture.top - layout.picture.top_mm * px_per_mm) <= near
    assert abs(picture.bottom - layout.picture.bottom_mm * px_per_mm) <= near
    # The picture lies in the file, and the file on the sheet.
    assert file.common(picture) == picture
    assert sheet.common(file) == file
    inside = made.picture_in_file
    assert Box(0, 0, file.width, file.height).common(inside) == inside
    assert (inside.width, inside.height) == (picture.width, picture.height)
    # Its edges on paper are those asked for, as nearly as pixels go.
    for page_mm, length_px in zip(made.page_mm, (file.width, file.height), strict=True):
        assert abs(length_px - page_mm * px_per_mm) <= near
    if wish.delivery.extent is Extent.SHEET:
        assert file == sheet
        assert sorted(made.page_mm) == sorted(
            [wish.sheet.width_mm, wish.sheet.height_mm]
        )
    else:
        borders = (
            picture.left - file.left,
            picture.top - file.top,
            file.right - picture.right,
            file.bottom - picture.bottom,
        )
        assert max(borders) <= wish.sheet.border_mm * px_per_mm + 1
        assert min(borders) >= wish.sheet.border_mm * px_per_mm - 1
    # Both edges are enlarged alike, within the pixel that each is rounded by.
    assert made.enlargement == pytest.approx(
        wish.size.ppi / made.effective_ppi, abs=1 / width_px
    )


@settings(max_examples=50)
@given(wishes())
def test_same_wish_gives_the_same_plan(wish):
    try:
        made = plan(wish)
    except FitError:
        assume(False)
    assert plan(wish) == made
    assert hash(plan(wish)) == hash(made)
