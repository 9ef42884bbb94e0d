"""From plans to one file, its nesting file, its drawing and its list of cuts."""

import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import tifffile
from click.testing import CliRunner
from recorded_print import small_studio

from printplan.cli import cli
from printplan.errors import FitError, PrintPlanError, RecordError, SpecError
from printplan.media import FeedPath, Margins, MediaForm, Stock
from printplan.pixels.render import render
from printplan.pixels.sheet import varied
from printplan.record.nested_prints import (
    BLADE_CAUTION,
    NestWish,
    nesting_rows,
    open_nested,
)
from printplan.record.nesting_file import (
    draw_nested,
    make_again,
    read_nesting,
    write_drawings,
    write_nested,
)
from printplan.record.paper_book import read_paper_book, write_paper_book
from printplan.record.plan_file import open_plan, read_plan_file, write_plan_file
from printplan.record.studio_folder import BOOK_NAME
from printplan.spec import Extent, FileFormat, SizeRule, SizeSpec
from printplan.units import LengthUnit
from printplan.workbook.panels.nest import NestPanel

MARGINS = Margins(leading_mm=3, trailing_mm=4, left_mm=5, right_mm=6)
ROLL = FeedPath(
    name="wide roll",
    takes=MediaForm.ROLLS,
    margins=MARGINS,
    shortest_mm=100,
    longest_mm=18_000,
    narrowest_mm=203,
    widest_mm=1118,
    thinnest_um=80,
    thickest_um=1500,
)
# Invented prices: 90 for 30 m is 3 a metre.
STOCK = (
    Stock(roll_width_mm=610, roll_length_m=30, left_m=12, price_each=90),
    Stock(sheet="A3", sheets_left=2, price_each=4),
)


@pytest.fixture(scope="module")
def base(studio, textured, tmp_path_factory):
    folder = tmp_path_factory.mktemp("nest") / "studio"
    wish = small_studio(folder, studio, textured)
    (folder / "book.toml").rename(folder / BOOK_NAME)
    (folder / "jobs").mkdir()
    book = read_paper_book(folder / BOOK_NAME)
    printer = next(it for it in book.printers if it.name == wish.printer)
    longer = replace(printer, feeds=(*printer.feeds, ROLL), longest_print_mm=None)
    papers = tuple(
        replace(
            it,
            stock=STOCK,
            on_printer=tuple(
                replace(pair, feeds=(*pair.feeds, ROLL.name)) for pair in it.on_printer
            ),
        )
        if it.name == wish.paper
        else it
        for it in book.papers
    )
    printers = tuple(longer if it == printer else it for it in book.printers)
    write_paper_book(
        replace(book, papers=papers, printers=printers, currency="EUR"),
        folder / BOOK_NAME,
        overwrite=True,
    )
    for name, width_mm, copies, border_mm in (
        ("large", 190.0, 2, 0.0),
        ("small", 100.0, 2, 4.0),
    ):
        spec = replace(
            wish.spec,
            size=SizeSpec(rule=SizeRule.WIDTH, width_mm=width_mm, ppi=72),
            sheet=replace(wish.spec.sheet, media_size="A3", border_mm=border_mm),
            delivery=replace(
                wish.spec.delivery, file_format=FileFormat.TIFF_8, copies=copies
            ),
        )
        master = replace(wish.master, file="../master.tif")
        write_plan_file(
            replace(wish, spec=spec, master=master, book=f"../{BOOK_NAME}"),
            folder / "jobs" / f"{name}.toml",
        )
    return folder


@pytest.fixture
def plans(base, tmp_path):
    """Plans of a folder of their own; masters, profiles and book lie where they are."""
    paths = []
    for name in ("large", "small"):
        source = base / "jobs" / f"{name}.toml"
        write_plan_file(read_plan_file(source).resolved(source), tmp_path / source.name)
        paths.append(tmp_path / source.name)
    return tuple(paths)


def wish(asked, **more):
    return NestWish(**({"plans": asked, "on": "610 mm roll"} | more))


def test_the_file_holds_each_print_as_its_own_file_does(plans, tmp_path):
    with open_nested(wish(plans)) as nested:
        made = write_nested(nested, tmp_path / "nested.tif")
        places = [(it.name, it.turned) for it in nested.nesting.placements]
        boxes = [it.box for it in nested.page(1).prints]
    whole = tifffile.imread(made.files[0].path)
    for (name, turned), box in zip(places, boxes, strict=True):
        with (sheet := open_plan(tmp_path / f"{name}.toml")).master:
            spec = sheet.plan.spec
            delivery = replace(spec.delivery, extent=Extent.PICTURE)
            own = tmp_path / "own.tif"
            render(varied(sheet, replace(spec, delivery=delivery)), own)
        single = tifffile.imread(own)
        own.unlink()
        found = whole[box.top : box.bottom, box.left : box.right]
        assert np.array_equal(found, np.rot90(single) if turned else single)


def test_paper_is_shared_by_area_at_the_price_of_the_book(plans):
    """Closed form: 90 EUR for 30 m are 3 EUR a metre, shared as the areas are."""
    with open_nested(wish(plans)) as nested:
        nesting = nested.nesting
        price = nesting.used_mm / 1000 * 3
        areas = [it.width_mm * it.height_mm for it in nesting.placements]
        for placed, area in zip(nesting.placements, areas, strict=True):
            share = f"{price * area / sum(areas):.2f} EUR"
            assert nested.price_words(placed) == share
        lengths = [nesting.length_share_mm(it) for it in nesting.placements]
        assert sum(lengths) == pytest.approx(nesting.used_mm)
        assert nesting.medium.length_mm == 12_000
        assert nesting.medium.margins == MARGINS
        assert nesting_rows(nested)[0][-1] == "paper"


def test_a_nesting_file_makes_the_same_file_again(plans, tmp_path):
    with open_nested(wish(plans, straight_cuts=True)) as nested:
        made = write_nested(nested, tmp_path / "nested.tif")
    again = make_again(made.record_path, tmp_path / "again.tif")
    assert again.differs == ()
    assert again.files[0].sha256 == made.files[0].sha256
    saved = read_nesting(made.record_path)
    assert [it.plan for it in saved.print] == ["large.toml", "small.toml"]
    assert saved.file[0].sha256 == made.files[0].sha256


def test_a_nesting_made_again_says_which_plan_was_changed(plans, tmp_path):
    with open_nested(wish(plans)) as nested:
        made = write_nested(nested, tmp_path / "nested.tif")
    text = plans[0].read_text().replace("gain = 0.8", "gain = 1.5")
    plans[0].write_text(text)
    again = make_again(made.record_path, tmp_path / "again.tif")
    assert "large.toml was changed" in again.differs[0]
    assert "again.tif is not the same" in again.differs[1]


def test_sheets_are_filled_one_file_each(plans, tmp_path):
    with open_nested(wish(plans, on="A3", copies=(3, 4))) as nested:
        assert nested.nesting.sheets == 2
        made = write_nested(nested, tmp_path / "nested.tif")
        assert nested.cost.paper == 8
    assert [it.path.name for it in made.files] == ["nested-1.tif", "nested-2.tif"]
    assert all(
        tifffile.imread(it.path).shape[:2] == (1191, 842)  # A3 at 72 to the inch
        for it in made.files
    )


def test_nothing_is_written_over(plans, tmp_path, base):
    with open_nested(wish(plans)) as nested:
        write_nested(nested, tmp_path / "nested.tif")
        with pytest.raises(RecordError, match="another name"):
            write_nested(nested, tmp_path / "nested.tif")
        with pytest.raises(PrintPlanError, match="never written to"):
            write_nested(nested, base / "master.tif", overwrite=True)
        other = write_nested(nested)
        assert other.files[0].path.name == "nested-2.tif"
        write_drawings(nested, tmp_path / "plan.svg")
        with pytest.raises(RecordError, match="another name"):
            write_drawings(nested, tmp_path / "plan.svg")
        with pytest.raises(RecordError, match=r"plan\.svg"):
            write_drawings(nested, tmp_path / "plan.png")


REFUSED = [
    ({"on": "A3", "copies": (30, 1)}, FitError, "buy"),
    ({"on": "44 in roll", "may_turn": False}, None, ""),
    ({"on": "60 in roll"}, SpecError, "printer takes"),
    ({"on": "A9"}, PrintPlanError, "Choose"),
    ({"plans": ()}, RecordError, "plan files"),
    ({"copies": (200, 200)}, SpecError, "fewer"),
]


@pytest.mark.parametrize(("more", "error", "remedy"), REFUSED, ids=str)
def test_what_cannot_be_nested_is_refused_with_a_remedy(more, error, remedy, plans):
    if error is None:
        with open_nested(wish(plans, **more)) as nested:
            assert not any(it.turned for it in nested.nesting.placements)
        return
    with pytest.raises(error, match=remedy), open_nested(wish(plans, **more)):
        pass


def test_prints_on_different_papers_are_refused(plans, base):
    other = read_plan_file(plans[1])
    papers = read_paper_book(base / BOOK_NAME).papers
    paper = next(it.name for it in papers if it.name != other.paper)
    write_plan_file(replace(other, paper=paper), plans[1], overwrite=True)
    with pytest.raises(SpecError, match="alike in paper"), open_nested(wish(plans)):
        pass


NUMBER = r"-?[0-9.]+"


def test_the_drawing_is_to_scale_and_shows_every_print_and_cut(plans):
    """Every rectangle of the drawing over the paper's is as the placement over it."""
    with open_nested(wish(plans, straight_cuts=True)) as nested:
        drawing, nesting = draw_nested(nested, 1), nested.nesting
        cuts = nesting.cuts()
    root = ET.fromstring(drawing.svg)  # noqa: S314 - our own
    space = "{http://www.w3.org/2000/svg}"

    def drawn(kind):
        found = [it for it in root.iter(f"{space}rect") if it.get("class") == kind]
        return [
            [float(it.get(k)) for k in ("x", "y", "width", "height")] for it in found
        ]

    (paper,) = drawn("paper")
    scale = paper[2] / nesting.sheet.right_mm
    assert paper[3] == pytest.approx(scale * nesting.used_mm, abs=0.02)
    for found, placed in zip(drawn("print"), nesting.placements, strict=True):
        edges = (placed.left_mm, placed.top_mm, placed.width_mm, placed.height_mm)
        wanted = [it * scale for it in edges]
        wanted[0] += paper[0]
        wanted[1] += paper[1]
        assert found == pytest.approx(wanted, abs=0.02)
    lines = [it for it in root.iter(f"{space}path") if it.get("class") == "cut"]
    assert len(lines) == len(cuts)
    for line, cut in zip(lines, cuts, strict=True):
        x0, y0, x1, y1 = map(float, re.findall(NUMBER, line.get("d")))
        ends = (
            cut.line.left_mm,
            cut.line.top_mm,
            cut.line.right_mm,
            cut.line.bottom_mm,
        )
        at = [it * scale + paper[number % 2] for number, it in enumerate(ends)]
        assert (x0, y0, x1, y1) == pytest.approx(at, abs=0.02)
    words = "".join(root.itertext())
    assert f"waste {100 * nesting.waste_share:.1f} %" in words
    assert "EUR" in words


def test_names_of_others_do_nothing_in_the_drawing(plans, tmp_path):
    strange = tmp_path / "a<b>&c.toml"
    plans[0].rename(strange)
    with open_nested(wish((strange,))) as nested:
        ET.fromstring(draw_nested(nested, 1).svg)  # noqa: S314 - our own


def test_the_drawing_speaks_in_inches_where_the_plan_does(plans):
    for path in plans:
        asked = read_plan_file(path)
        spec = replace(asked.spec, lengths_in=LengthUnit.INCHES)
        write_plan_file(replace(asked, spec=spec), path, overwrite=True)
    with open_nested(wish(plans, on="24 in roll")) as nested:
        assert "24.00 in" in draw_nested(nested, 1).svg


def test_the_command_tells_table_cuts_and_caution_and_writes_the_file(plans, tmp_path):
    out, svg = tmp_path / "out.tif", tmp_path / "plan.svg"
    asked = ["nest", *map(str, plans), "--on", "610 mm roll", "--gap", "6mm"]
    told = CliRunner().invoke(
        cli,
        [*asked, "--straight-cuts", "--out", str(out), "--drawing", str(svg)],
        catch_exceptions=False,
    )
    assert told.exit_code == 0
    assert "large 1/2" in told.output
    assert "across the feed" in told.output
    assert BLADE_CAUTION in told.output
    assert out.is_file()
    assert svg.read_text().startswith("<svg")
    record = tmp_path / "out.nesting.toml"
    assert read_nesting(record).gap_mm == 6
    again = ["nest", "--again", str(record), "--out", str(tmp_path / "again.tif")]
    told = CliRunner().invoke(cli, again, catch_exceptions=False)
    assert told.exit_code == 0
    assert "the same file" in told.output
    dry = CliRunner().invoke(cli, [*asked, "--no-turn", "--dry-run"])
    assert dry.exit_code == 0
    assert "turned " not in dry.output.partition("\n")[2].partition("\n")[2]


@pytest.fixture
def panel(base):
    panel = NestPanel(base)
    assert panel.settle()
    return panel


def test_the_panel_nests_what_is_chosen_and_writes_its_file(panel, base):
    named = {row.description.partition(":")[0] for row in panel.rows.children}
    assert named == {"large", "small"}
    assert panel.write.disabled
    for row in panel.rows.children:
        row.value = 2
    panel.medium.value = "610 mm roll"
    panel.cutting.value = True
    panel.nest.click()
    assert panel.settle()
    assert panel.message.value == ""
    assert "Waste" in panel.words.value
    assert "image/svg+xml" in panel.drawing.value
    assert "across the feed" in panel.cuts.value
    assert "Blades" in panel.cuts.value
    panel.write.click()
    assert panel.settle()
    assert panel.message.value == ""
    assert "nested.tif" in panel.status.value
    (record,) = (base / "jobs").glob("*.nesting.toml")
    assert read_nesting(record).straight_cuts
    panel.gap.value = "9"
    assert panel.drawing.value == ""
    assert panel.write.disabled


def test_the_panel_says_what_is_wrong(panel):
    panel.nest.click()
    assert panel.settle()
    assert "at least one job" in panel.message.value
    panel.rows.children[0].value = 1
    panel.medium.value = "60 in roll"
    panel.nest.click()
    assert panel.settle()
    assert "printer takes" in panel.message.value
    assert not panel.nest.disabled


def test_every_control_of_the_panel_has_its_line(panel):
    controls = [
        panel.paper,
        panel.medium,
        panel.gap,
        panel.turning,
        panel.cutting,
        panel.nest,
        panel.write,
        panel.again,
        *panel.rows.children,
    ]
    assert all(it.tooltip for it in controls)
