import io
import re
import subprocess
from dataclasses import replace
from math import exp, hypot

import html5lib
import numpy as np
import pikepdf
import pytest
from fpdf import FPDF
from hypothesis import given, settings
from hypothesis import strategies as st
from outside_tools import need
from PIL import Image
from recorded_print import recorded, small_studio, with_spec

from printplan.checks import Finding, Level
from printplan.colour.spaces import named_profile
from printplan.errors import RecordError
from printplan.media import MediaForm, Stock
from printplan.pixels.picture_content import picture_content
from printplan.pixels.sharpening import chosen_sharpening
from printplan.pixels.sheet import build_sheet
from printplan.record.cost import CostBasis, recorded_cost
from printplan.record.decision_sheet.dialogue import dialogue_of
from printplan.record.decision_sheet.facts import decision_facts, small_pictures
from printplan.record.decision_sheet.pdf_sheet import PageSize, pdf_sheet
from printplan.record.decision_sheet.pdf_text import Rehearsal, Writer, add_fonts
from printplan.record.decision_sheet.print_facts import cost_section
from printplan.record.decision_sheet.response_graph import draw_responses
from printplan.record.decision_sheet.sheet_drawing import draw_sheet
from printplan.record.decision_sheet.write import (
    html_page,
    require_page_name,
    write_decision_sheet,
)
from printplan.record.record import RecordedFinding
from printplan.record.reprint import open_record
from printplan.sharpening.chain import Chain
from printplan.spec import (
    Delivery,
    DeliverySpec,
    Extent,
    FileFormat,
    MatMargins,
    MountSpec,
    NamedSpace,
)

# ISO 216: A4 is 210 × 297 mm. ANSI/ASME Y14.1: size A is 8.5 × 11 in.
PAGE_MM = {PageSize.A4: (210, 297), PageSize.LETTER: (215.9, 279.4)}
POINT_MM = 25.4 / 72  # ISO 32000-1, 8.3.2.3
HARMFUL = 'Ærø </td><script src="http://x/y.js">&amp; **bold** [a](b)'


@pytest.fixture(scope="module")
def wish(studio, textured, tmp_path_factory):
    return small_studio(tmp_path_factory.mktemp("sheet"), studio, textured)


@pytest.fixture(scope="module")
def record(wish, tmp_path_factory):
    return recorded(wish, tmp_path_factory.mktemp("made") / "print", note="First try.")


def facts_of(record, **options):
    sheet = open_record(record)
    with sheet.master:
        return decision_facts(record, sheet, **options)


@pytest.fixture(scope="module")
def facts(record):
    return facts_of(record, edition="3 of 10")


def pdf_text(data):
    """All words of a PDF, as another reader finds them."""
    need("pdftotext")
    done = subprocess.run(
        ["pdftotext", "-raw", "-", "-"], input=data, capture_output=True, check=True
    )
    return " ".join(done.stdout.decode().split())


def rows_of(section):
    return {row.what: row.value for row in section.rows}


def cost_told(basis):
    return rows_of(cost_section(basis, by_service=False))


def settings_of(facts):
    return {it.what: it.value for it in facts.dialogue.settings}


def test_html_is_valid_and_holds_everything_inside(facts):
    """html5lib is a parser of the HTML standard; strict, it raises at any error."""
    page = html_page(facts)
    tree = html5lib.HTMLParser(strict=True).parse(page)
    addresses = [
        value
        for element in tree.iter()
        for name, value in element.attrib.items()
        if re.fullmatch(r"(\{.*\})?(src|href|action|data|poster|srcset)", str(name))
    ]
    kinds = [address.partition(";base64,")[0] for address in addresses]
    photographs = ["data:image/jpeg"] * 2
    assert kinds == [*photographs, "data:image/svg+xml", "data:image/svg+xml"]
    for drawing in (facts.sheet_drawing, facts.responses):
        assert drawing.data_uri in addresses
        inner = re.findall(r'href="([^"]*)"', drawing.svg)
        assert all(it.startswith(("#", "data:image/jpeg;base64,")) for it in inner)
        assert "url(" not in drawing.svg
        assert "@import" not in drawing.svg
        assert "<script" not in drawing.svg
    # The proof on its sheet.
    assert facts.sheet_drawing.svg.count("data:image/jpeg;base64,") == 1
    assert "url(" not in page
    assert "@import" not in page
    assert "<script" not in page


def test_each_row_of_the_facts_is_a_row_of_a_table(facts):
    """Also one whose words look like the page's own."""
    first, *others = facts.print_section.rows
    harmed = replace(first, value=f"{HARMFUL}\n")
    section = replace(facts.print_section, rows=(harmed, *others))
    facts = replace(facts, print_section=section)
    page = html_page(facts)
    tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(page)
    found = [
        (row.find("th").text, "".join(row.find("td").itertext()))
        for row in tree.iter("tr")
        if row.find("th") is not None
    ]
    assert (harmed.what, f"{HARMFUL}\\n") in found
    sections = (section, facts.sharpening, facts.colour, facts.delivery, facts.cost)
    for row in (it for each in sections for it in each.rows if it is not harmed):
        assert (row.what, row.value) in found
    for each in sections:
        for words in each.words:
            assert words in [it.text for it in tree.iter("p")]


@pytest.mark.slow
@pytest.mark.tools("pdftotext")
def test_what_a_person_wrote_cannot_break_the_page(facts):
    harmed = replace(facts, title=HARMFUL, notes=(HARMFUL,), edition=HARMFUL)
    page = html_page(harmed)
    tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(page)
    assert tree.find(".//script") is None
    assert tree.find(".//h1").text == HARMFUL
    assert HARMFUL in pdf_text(pdf_sheet(harmed)).replace("\u200b", "")


@pytest.mark.slow
@pytest.mark.tools("qpdf")
@pytest.mark.parametrize("page", PageSize)
def test_pdf_is_one_page_of_its_size_with_letters_inside(facts, page, tmp_path):
    data = pdf_sheet(facts, page=page)
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert len(pdf.pages) == 1
        box = [float(edge) * POINT_MM for edge in pdf.pages[0].mediabox]
        # Points are written to a hundredth.
        assert box == pytest.approx([0, 0, *PAGE_MM[page]], abs=0.005)
        fonts = pdf.pages[0].Resources.Font
        assert fonts.keys()
        for font in fonts.values():
            below = font.DescendantFonts[0].FontDescriptor
            assert "/FontFile2" in below
    (tmp_path / "sheet.pdf").write_bytes(data)
    need("qpdf")
    subprocess.run(["qpdf", "--check", tmp_path / "sheet.pdf"], check=True)


@pytest.mark.slow
@pytest.mark.tools("pdftotext")
def test_pdf_says_all_that_the_html_says(facts, record):
    words = pdf_text(pdf_sheet(facts))
    flat = words.replace("\u200b", "").replace(" ", "")
    for section in (facts.print_section, facts.sharpening, facts.colour, facts.cost):
        assert section.heading in words
    for text in (
        *(it.digest for it in facts.hashes),
        *(it.value for it in facts.dialogue.settings if len(it.value) < 20),
        record.note,
        "Take care",
        "Signature",
        "3 of 10",
        record.rendered.sha256,
        record.facts.sha256,
    ):
        assert text.replace(" ", "") in flat


def test_pixels_are_told_by_the_hash_that_the_record_has(record, facts):
    """Records of before have another."""
    made = replace(record.rendered, pixel_blake3="", pixel_sha256="5" * 64)
    before = facts_of(replace(record, rendered=made))
    assert before.hashes[-1].digest == "5" * 64
    assert before.hashes[-1].name == "before the file format"
    assert facts.hashes[-1].digest == record.rendered.pixel_blake3
    assert facts.hashes[-1].name == "before the file format, by BLAKE3"


@pytest.mark.slow
def test_same_facts_give_the_same_pdf(facts):
    assert pdf_sheet(facts) == pdf_sheet(facts)


@pytest.mark.slow
def test_lines_and_letters_are_grey(facts):
    """What a black-and-white printer would lose is in the pictures alone."""
    with pikepdf.open(io.BytesIO(pdf_sheet(facts))) as pdf:
        found = set()
        for operands, operator in pikepdf.parse_content_stream(pdf.pages[0]):
            if str(operator) in {"rg", "RG"}:
                red, green, blue = map(float, operands)
                assert red == green == blue
            found.add(str(operator))
        assert found & {"g", "G", "rg", "RG"}
        assert not found & {"k", "K", "sc", "SC", "scn", "SCN"}


def test_pictures_are_tagged_srgb(facts):
    for picture in (facts.picture, facts.proof):
        with Image.open(io.BytesIO(picture.jpeg)) as opened:
            profile = opened.info["icc_profile"]
            assert profile == named_profile(NamedSpace.SRGB).data
            assert opened.size == (picture.width_px, picture.height_px)
            # The plan's picture: 120 mm wide from 320 × 210 px.
            assert opened.width / opened.height == pytest.approx(320 / 210, rel=0.01)


def test_dialogue_of_a_converted_file_converts_nothing(facts):
    settings = settings_of(facts)
    # ISO 216: A4; the plan's own front slot; the demo's paper.
    assert settings["Page size"] == "A4, 210 × 297 mm"
    assert settings["Orientation"] == "landscape"
    assert settings["Paper source"] == "front slot"
    assert settings["Paper type"] == "Cotton, very heavy"
    assert settings["Black ink"] == "matte black"
    assert settings["Scaling"].startswith("none")
    assert settings["Colour"].startswith("no conversion")
    assert "Intent" not in settings
    assert any("colour conversion in the dialogue" in it for it in facts.dialogue.off)


def test_dialogue_says_what_the_profile_was_made_with(master_of, plan_for):
    """Only what the paper book says; without it the list is as it was."""
    plan = plan_for(master_of(np.zeros((60, 90, 3), np.uint16)))

    def settings(**setup):
        changed = replace(plan, setup=replace(plan.setup, **setup))
        dialogue = dialogue_of(changed, profile="cotton", file_profile="cotton")
        return {it.what: (it.value, it.attribute) for it in dialogue.settings}

    plain = settings()
    assert "not known" in plain["Quality"][0]
    told = settings(
        quality="fine, slow",
        driver_resolution="2880 × 1440 dpi",
        platen_gap="wide",
        ink_limit_percent=260.0,
    )
    assert {name: told[name] for name in told if told[name] != plain.get(name)} == {
        "Quality": ("fine, slow", "print-quality"),
        "Driver resolution": ("2880 × 1440 dpi", "printer-resolution"),
        "Platen gap": ("wide", ""),
        "Ink limit": ("260 % of all inks together", ""),
    }


@pytest.mark.slow
@pytest.mark.tools("pdftotext")
def test_dialogue_of_other_deliveries(wish, tmp_path):
    working = DeliverySpec(colour=Delivery.WORKING_COLOUR, extent=Extent.PICTURE)
    record = recorded(with_spec(wish, delivery=working), tmp_path / "working")
    settings = settings_of(facts := facts_of(record))
    assert "converted once" in settings["Colour"]
    assert record.profile.description in settings["Colour"]
    assert settings["Intent"].startswith("media-relative colorimetric, black point")
    # 120 mm of 297 mm are centred: 88.5 mm from the left; 78.75 of 210 mm: 65.6.
    assert "88.5 mm" in settings["Place"]
    assert "65.6 mm" in settings["Place"]
    assert any("only the dialogue converts" in it for it in facts.dialogue.off)
    service = DeliverySpec(
        colour=Delivery.NAMED_SPACE,
        named_space=NamedSpace.SRGB,
        file_format=FileFormat.JPEG,
    )
    record = recorded(with_spec(wish, delivery=service), tmp_path / "service")
    facts = facts_of(record)
    assert facts.dialogue.heading == "Order from the print service"
    assert "Paper source" not in settings_of(facts)
    # Nothing of this studio's printer plays a part.
    assert facts.by_hand_heading == "With the order, by hand"
    told = " ".join(facts.by_hand).casefold()
    assert not any(word in told for word in ("nozzle", "ink", "feed path", "platen"))
    assert rows_of(facts.cost) == {"Price": "the print service's, not known here"}
    assert facts.line.endswith("by a print service")
    for page in PageSize:
        assert words_over_words(pdf_sheet(facts, page=page)) == []


BOX = re.compile(
    r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">(.*?)</'
)


def words_over_words(data):
    """Pairs of words of a PDF whose letters lie over each other, by poppler's boxes."""
    need("pdftotext")
    done = subprocess.run(
        ["pdftotext", "-bbox", "-", "-"], input=data, capture_output=True, check=True
    )
    boxes = [
        (*map(float, found.groups()[:4]), found[5])
        for found in BOX.finditer(done.stdout.decode())
    ]
    assert len(boxes) > 200
    pairs = []
    for number, (left, top, right, bottom, word) in enumerate(boxes):
        for left_2, top_2, right_2, bottom_2, other in boxes[number + 1 :]:
            across = min(right, right_2) - max(left, left_2)
            down = min(bottom, bottom_2) - max(top, top_2)
            # Lines stand 1.2 sizes apart and boxes are a little taller than that.
            if across > 0.5 and down > 0.4 * min(bottom - top, bottom_2 - top_2):
                pairs.append((word, other))
    return pairs


@pytest.mark.slow
@pytest.mark.tools("pdftotext")
def test_no_word_is_set_over_another(facts):
    """Whatever is set, and however long its attribute's name is."""
    assert words_over_words(pdf_sheet(facts)) == []
    settings = tuple(
        replace(it, attribute="print-rendering-intent-and-more"[: 4 + 3 * number])
        for number, it in enumerate(facts.dialogue.settings)
    )
    longer = replace(facts, dialogue=replace(facts.dialogue, settings=settings))
    for page in PageSize:
        assert words_over_words(pdf_sheet(longer, page=page)) == []


@pytest.fixture(scope="module")
def page_to_set():
    pdf = FPDF(unit="mm", format="A4")
    pdf.set_auto_page_break(auto=False)
    pdf.set_margin(0)
    fonts = add_fonts(pdf)
    pdf.add_page()
    yield pdf, set(fonts[0].cmap)
    for font in fonts:
        font.ttfont.close()


# Words of the sheet, and at times what the setting of words reads as more than letters.
PLAIN_WORDS = st.lists(
    st.sampled_from(["Choose", "a", "paper", "that", "holds 3 mm", "× 2", "\u3000"])
    | st.text("aiMW~\u00a0\u200b", max_size=60),
    max_size=40,
).map(" ".join)
WORDS = PLAIN_WORDS | st.text("aiMW _~-*[](\\.\u00ad", max_size=200)


@settings(max_examples=40)
@given(
    width_mm=st.floats(20, 190),
    size_pt=st.floats(5.6, 7.6),
    text=WORDS,
    other=WORDS,
    bold=st.booleans(),
)
def test_rehearsal_ends_where_the_words_end(
    page_to_set, width_mm, size_pt, text, other, bold
):
    pdf, known = page_to_set
    ends_mm = []
    for kind in (Writer, Rehearsal):
        writer = kind(pdf, size_pt, known=known)
        marked = f"**{writer.plain(text)}**: {writer.plain(other)}"
        ends_mm.append(
            [
                writer.words(0, 10, width_mm, text, scale=1.3, bold=bold),
                writer.marked(0, 10, width_mm, marked),
                writer.row(0, 10, width_mm, text[:20], other, aside=text[:9]),
                writer.item(0, 10, width_mm, "☐", other),
                writer.hash_row(0, 10, width_mm, "Print", text, "0123456789abcdef" * 4),
            ]
        )
    assert ends_mm[1] == pytest.approx(ends_mm[0], abs=1e-6)


def test_rehearsal_sets_nothing(page_to_set):
    pdf, known = page_to_set
    before = len(pdf.pages[pdf.page].contents)
    writer = Rehearsal(pdf, 6.0, known=known)
    writer.heading(0, 10, 60, "Findings")
    writer.row(0, 10, 60, "Paper", "cotton", aside="media-type")
    writer.frame(0, 0, 10, 10, width_mm=0.1)
    writer.picture(b"", 0, 0, 10, 10, "Nothing.")
    assert b"Td" not in pdf.pages[pdf.page].contents[before:]
    assert b" re" not in pdf.pages[pdf.page].contents[before:]


@pytest.mark.slow
def test_what_is_not_known_is_said(wish, facts, tmp_path):
    colour = rows_of(facts.colour)
    assert colour["Room light"] == colour["Display white"] == "not known"
    room = replace(wish.spec.room, illuminance_lx=150.0)
    record = recorded(with_spec(wish, room=room), tmp_path / "print")
    setups = tuple(replace(it, media_type="") for it in record.paper.on_printer)
    sheet = open_record(
        record := replace(record, paper=replace(record.paper, on_printer=setups))
    )
    with sheet.master:
        known = decision_facts(record, sheet)
    assert rows_of(known.colour)["Room light"] == "150 lx"
    assert settings_of(known)["Paper type"].startswith("not known")


def test_cost_is_reckoned_from_its_basis():
    basis = CostBasis(
        currency="EUR",
        paper_amount=1,
        paper_price=4.20,
        ink_ml=2.6,
        ink_price_per_ml=0.55,
        source="invoice",
    )
    # 2.6 × 0.55 = 1.43; 4.20 + 1.43 = 5.63.
    assert cost_told(basis) == {
        "Paper": "4.20 EUR (1 sheet at 4.20)",
        "Ink": "1.43 EUR (2.6 ml at 0.55)",
        "Time": "not known",
        "Together": "5.63 EUR",
        "By": "invoice",
    }


def test_no_sum_is_told_of_which_a_part_is_missing():
    told = cost_told(CostBasis(currency="EUR", paper_amount=1, paper_price=4.2))
    assert told["Ink"] == told["By"] == "not known"
    assert "Together" not in told
    assert cost_told(None) == dict.fromkeys(("Paper", "Ink", "Time"), "not known")
    with pytest.raises(RecordError, match="leave it out"):
        CostBasis(currency="EUR", ink_ml=-1)


def test_recorded_cost_is_the_price_of_that_sheet(record):
    paper = record.paper
    sizes = {it.sheet: replace(it, price_each=None) for it in paper.stock}
    stock = tuple(
        replace(it, price_each=2.5, currency="EUR") if size == "A4" else it
        for size, it in sizes.items()
    )
    assert "A4" in sizes
    priced = replace(record, paper=replace(paper, stock=stock))
    basis = recorded_cost(priced)
    assert (basis.paper_price, basis.paper_amount, basis.ink_ml) == (2.5, 1.0, None)
    assert basis.currency == "EUR"
    # A person may write the size as it comes: a4 is A4.
    written = replace(priced, spec=with_media(priced.spec, "a4"))
    assert recorded_cost(written) == basis
    unpriced = replace(record, paper=replace(paper, stock=tuple(sizes.values())))
    assert recorded_cost(unpriced) is None


def with_media(spec, size):
    return replace(spec, sheet=replace(spec.sheet, media_size=size))


def test_currency_of_the_book_is_told_with_the_price(record):
    """The demo's book says once that all its prices are euros."""
    told = cost_told(recorded_cost(record))
    assert told["Paper"].startswith("2.40 EUR (1 sheet at 2.40)")


def test_roll_is_paid_by_the_metre_and_says_how(record):
    """297 mm cut off a roll of 12 m at 90 EUR: 0.297 × 7.50 EUR = 2.2275 EUR."""
    roll = Stock(roll_width_mm=210.0, roll_length_m=12.0, price_each=90.0)
    feeds = tuple(replace(it, takes=MediaForm.ROLLS) for it in record.printer.feeds)
    rolled = replace(
        record,
        printer=replace(record.printer, feeds=feeds),
        paper=replace(record.paper, stock=(roll,)),
    )
    told = cost_told(recorded_cost(rolled))
    assert told["Paper"] == "2.23 EUR (0.297 m at 7.50)"
    assert "90.00 EUR for a roll of 12 m, by the length cut off" in told["By"]
    # The front slot's own margins, as the demo's book has them.
    assert "white edges of 20 mm and 20 mm are in it" in told["By"]
    unmeasured = replace(roll, roll_length_m=None)
    paper = replace(rolled.paper, stock=(unmeasured,))
    told = cost_told(recorded_cost(replace(rolled, paper=paper)))
    assert told["Paper"] == "not known (0.297 m)"
    assert "its length is not in the book" in told["By"]


def finding(level, number):
    return RecordedFinding(
        finding=Finding(
            level=level,
            topic=f"fault {number}",
            problem=f"Fault {number} is 431.8 mm wide; the sheet takes 396.0 mm.",
            remedy="Choose a width of 396 mm or less, or a larger sheet.",
        ),
        done="Looked at from 2 m." if number == 2 else "",
    )


@pytest.mark.slow
@pytest.mark.tools("pdftotext")
def test_findings_are_told_with_what_was_done(record):
    kept = (finding(Level.NOTE, 1), finding(Level.WARN, 2), finding(Level.STOP, 3))
    facts = facts_of(replace(record, findings=kept))
    assert [it.finding.level for it in facts.findings] == ["stop", "warn", "note"]
    for words in (html_page(facts), pdf_text(pdf_sheet(facts))):
        assert words.count("nothing noted") == 2
        assert "Looked at from 2 m." in " ".join(words.split())


@pytest.mark.slow
@pytest.mark.tools("pdftotext")
def test_findings_beyond_the_page_are_counted(facts):
    many = tuple(finding(Level.WARN, number) for number in range(60))
    words = pdf_text(pdf_sheet(replace(facts, findings=many)))
    (left_out,) = re.findall(r"(\d+) more in the record", words)
    shown = len(re.findall(r"Fault \d+ is", words))
    assert shown + int(left_out) == 60
    assert shown > 3
    assert html_page(replace(facts, findings=many)).count("431.8 mm wide") == 60


@pytest.mark.slow
@pytest.mark.tools("pdftotext")
def test_signs_that_the_letters_lack_are_counted(facts):
    words = pdf_text(pdf_sheet(replace(facts, title="紅い鉢")))
    assert "???" in words
    assert "3 different signs" in words


@pytest.mark.slow
def test_a_page_that_cannot_hold_its_words_is_refused(facts):
    with pytest.raises(RecordError, match="HTML"):
        pdf_sheet(replace(facts, title="name " * 2000))


SVG = "{http://www.w3.org/2000/svg}"


def numbers_in(data):
    return [float(it) for it in re.findall(r"-?\d*\.?\d+", data)]


def by_class(svg, name):
    (found,) = [it for it in html5lib.parse(svg).iter() if it.get("class") == name]
    return found


def place_of(element):
    return [float(element.get(name)) for name in ("x", "y", "width", "height")]


def test_sheet_is_drawn_to_scale_with_the_edge_that_enters_first(facts):
    """A4 in landscape, the picture of 120 × 78.75 mm in its middle."""
    svg = facts.sheet_drawing.svg
    left_mm, top_mm, width_mm, height_mm = place_of(by_class(svg, "picture"))
    paper_left_mm, paper_top_mm, paper_mm, tall_mm = place_of(by_class(svg, "paper"))
    scale = paper_mm / 297
    # Places are written to a hundredth of a millimetre.
    assert tall_mm == pytest.approx(210 * scale, abs=0.01)
    assert width_mm == pytest.approx(120 * scale, abs=0.01)
    assert height_mm == pytest.approx(78.75 * scale, abs=0.01)
    assert left_mm - paper_left_mm == pytest.approx((297 - 120) / 2 * scale, abs=0.02)
    assert top_mm - paper_top_mm == pytest.approx((210 - 78.75) / 2 * scale, abs=0.02)
    words = {it.text for it in html5lib.parse(svg).iter(f"{SVG}text")}
    assert {"297.0 mm", "210.0 mm", "120.0 mm", "78.8 mm", "88.5"} <= words
    # A landscape picture is turned anticlockwise onto its sheet (RFC 8011, 5.2.10):
    # its right edge leads, and there is the tip of the arrow.
    start_mm, _, along_mm, *_ = numbers_in(by_class(svg, "arrow").get("d"))
    assert start_mm + along_mm > paper_left_mm + 0.9 * paper_mm
    assert "arrow: enters the front slot first" in facts.sheet_drawing.legend


@pytest.mark.tools("pdftotext")
def test_drawings_stand_in_the_pdf_with_their_words_and_descriptions(facts):
    data = pdf_sheet(facts)
    words = pdf_text(data)
    for text in ("297.0 mm", "210.0 mm", "78.8 mm", "with sharpening", "contrast left"):
        assert text in words
    assert facts.sheet_drawing.legend.replace("; ", " ").split()[0] in words
    with pikepdf.open(io.BytesIO(data)) as pdf:
        told = {
            str(it.Alt)
            for it in pdf.objects
            if isinstance(it, pikepdf.Dictionary) and "/Alt" in it
        }
    assert told == {
        it.description
        for it in (facts.picture, facts.proof, facts.sheet_drawing, facts.responses)
    }


def test_lines_for_mat_and_fold_are_dashed_and_dotted_at_their_size(record):
    sheet = open_record(record)
    with sheet.master:
        plan, jpeg = sheet.plan, small_pictures(sheet)[1].jpeg
    for mount, name, size_mm in (
        # The opening is 110 mm; the picture of 120 mm less 20 at both sides is 80.
        (MountSpec(mat_opening_width_mm=110.0, mat_opening_height_mm=70.0), "mat", 110),
        (MountSpec(wrap_mm=20.0, stretcher_depth_mm=20.0), "fold", 80),
    ):
        mounted = replace(plan, spec=replace(plan.spec, mount=mount))
        svg = draw_sheet(mounted, jpeg, width_mm=60, height_mm=42).svg
        line = by_class(svg, name)
        scale = place_of(by_class(svg, "paper"))[2] / 297
        assert place_of(line)[2] == pytest.approx(size_mm * scale, abs=0.01)
        assert line.get("stroke-dasharray")


FRAMED = MountSpec(
    reveal_mm=10,
    reveal_below_mm=25,
    mat_margins=MatMargins.BOTTOM_WEIGHTED,
    mat_foot_mm=10,
    frame_width_mm=400,
    frame_height_mm=300,
)


@pytest.fixture(scope="module")
def framed(wish, tmp_path_factory):
    """Facts of a picture of 120 × 78.75 mm with white round it, in mat and frame."""
    folder = tmp_path_factory.mktemp("framed") / "print"
    return facts_of(recorded(with_spec(wish, mount=FRAMED), folder))


def test_page_tells_the_cutters_list_and_what_is_hidden(framed):
    """
    Common practice, no source: the opening is 140 × 113.75 mm, in 400 × 300.

    (400 - 140) / 2 is 130; (300 - 113.75 - 10) / 2 is 88.1. To half a millimetre the
    opening reaches from 88 to 202 mm, which leaves 98 at the foot.
    """
    told = {row.what: row.value for row in framed.mat.rows}
    assert told["Mat, outside"] == "400 × 300 mm"
    assert told["Opening"].startswith("140 × 114 mm, 130 mm from the left, 88 mm")
    assert told["Borders"] == "left 130, top 88, right 130, foot 98 mm"
    assert told["White shown"] == "left 10.0, top 10.0, right 10.0, foot 25.0 mm"
    assert told["Frame"] == "glass 400.0 × 300.0 mm, of which 388.0 × 288.0 mm are seen"
    assert told["Mat under the frame"] == "6.0 mm on each side"
    assert framed.mat.words[0].startswith("A bevel cutter's guide is set")
    assert any(it.startswith("Glass: its edges cut") for it in framed.cautions)
    html = html5lib.parse(html_page(framed))
    words = " ".join("".join(html.itertext()).split())
    assert "Mat and frame" in words
    assert "foot 98 mm" in words


def test_page_without_a_mat_says_nothing_of_one(facts):
    assert facts.mat is None
    assert not any("Glass" in it for it in facts.cautions)


@pytest.mark.tools("pdftotext")
def test_pdf_holds_the_cutters_list_on_its_one_page(framed):
    data = pdf_sheet(framed)
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert len(pdf.pages) == 1
    words = pdf_text(data)
    for text in ("Mat and frame", "400 × 300 mm", "foot 98 mm", "its stops to"):
        assert text in words


def test_rings_of_mat_and_frame_are_drawn_at_their_size(framed):
    svg = framed.sheet_drawing.svg
    scale = place_of(by_class(svg, "paper"))[2] / 297
    for kind, outer_mm, inner_mm in (
        ("shaded", (400, 300), (140, 113.75)),
        ("dark", (400, 300), (388, 288)),
    ):
        # M left top H right V bottom H left Z M left top V bottom H right V top Z
        left, top, right, bottom, _, *hole = numbers_in(by_class(svg, kind).get("d"))
        assert (right - left, bottom - top) == pytest.approx(
            [it * scale for it in outer_mm], abs=0.02
        )
        in_left, in_top, in_bottom, in_right, _ = hole
        assert (in_right - in_left, in_bottom - in_top) == pytest.approx(
            [it * scale for it in inner_mm], abs=0.02
        )
    assert "shaded: under the mat of 400.0 × 300.0 mm" in framed.sheet_drawing.legend


def test_mat_that_cannot_be_cut_has_no_list_but_its_reason(wish, tmp_path):
    small = MountSpec(mat_overlap_mm=3, frame_width_mm=130, frame_height_mm=130)
    facts = facts_of(recorded(with_spec(wish, mount=small), tmp_path / "print"))
    assert facts.mat.rows == ()
    assert "10.0 mm can be cut" in facts.mat.words[0]
    assert "a frame of at least 134 × 92.8 mm" in facts.mat.words[1]


def test_curve_is_that_of_the_unsharp_mask():
    """Sharpened over unsharpened contrast is 1 + A(1 − G), G of the sampled kernel."""
    gain, radius_px, ppi = 1.0, 1.0, 300.0
    chain = Chain(
        spread=30.0,
        ppi=ppi,
        master_edge_sigma_px=0.6,
        enlargement=1.0,
        distance_mm=300.0,
        luminance_cd_m2=140.0,
        lightness_l=50.0,
    )
    drawing = draw_responses(
        chain, gain=gain, blur=radius_px, width_mm=60, height_mm=34
    )
    groups = {it.get("id"): it for it in html5lib.parse(drawing.svg).iter()}
    before, after, field = (
        np.reshape(numbers_in(groups[name].find(f".//{SVG}path").get("d")), (-1, 2))
        for name in ("before", "after", "patch_2")
    )
    foot = field[:, 1].max()
    start, end = field[:, 0].min(), field[:, 0].max()
    kernel = np.array([exp(-(k**2) / (2 * radius_px**2)) for k in range(-8, 9)])
    kernel /= kernel.sum()
    assert len(before) == len(after) > 100
    for (x, low), (x_too, high) in zip(before[:300:10], after[:300:10], strict=True):
        assert x == x_too
        # Both end where the print pixels do: half a cycle per pixel.
        cycles_px = (x - start) / (end - start) * 0.5
        steps = np.arange(-8, 9)
        blurred = float(kernel @ np.cos(2 * np.pi * cycles_px * steps))
        expected = 1 + gain * (1 - blurred)
        assert (foot - high) / (foot - low) == pytest.approx(expected, rel=0.01)


@pytest.mark.slow
def test_sharpening_says_what_it_was_chosen_for_and_why(record):
    sheet = open_record(record)
    with sheet.master:
        advice = chosen_sharpening(
            sheet.plan, picture_content(sheet), distance_mm=400, restore=0.75
        )
    chosen = replace(record, spec=replace(record.spec, sharpen=advice.spec))
    words = facts_of(chosen).sharpening.words
    assert "restore 0.75" in words[0]
    assert words[1:] == (advice.choice.why, advice.reason)
    # A hand that changes what was chosen is told.
    other = replace(advice.spec, gain=advice.spec.gain + 0.5)
    changed = replace(record, spec=replace(record.spec, sharpen=other))
    (words,) = facts_of(changed).sharpening.words
    assert f"gain {advice.spec.gain:.2f}" in words


def test_sheet_of_another_print_is_refused(record):
    other = replace(record.spec, size=replace(record.spec.size, width_mm=100))
    sheet = open_record(record)
    with (
        sheet.master,
        pytest.raises(RecordError, match="Open the sheet from the record"),
    ):
        decision_facts(replace(record, spec=other), sheet)


@pytest.mark.slow
@pytest.mark.tools("pdftotext")
def test_picture_too_small_to_measure_is_said(studio, tmp_path):
    """Content is measured from 128 print pixels on; here are some 60."""
    pixels = np.full((40, 60, 3), 30_000, np.uint16)
    wish = small_studio(tmp_path / "studio", studio, pixels)
    small = with_spec(wish, size=replace(wish.spec.size, width_mm=10))
    facts = facts_of(recorded(small, tmp_path / "print"))
    assert facts.responses is None
    assert "not known" in facts.sharpening.words[0]
    assert "not known" in pdf_text(pdf_sheet(facts))
    html5lib.HTMLParser(strict=True).parse(html_page(facts))


@pytest.mark.slow
def test_page_is_written_once_and_replaces_only_its_like(facts, tmp_path):
    for name in ("sheet.html", "sheet.PDF"):
        path = tmp_path / name
        assert write_decision_sheet(facts, path) == path
        written = path.read_bytes()
        with pytest.raises(
            RecordError, match=r"another name\. In Python: overwrite=True"
        ):
            write_decision_sheet(facts, path)
        write_decision_sheet(facts, path, overwrite=True)
        assert path.read_bytes() == written
        for other in (b"mine", written + b"<!-- a note of mine -->"):
            path.write_bytes(other)
            with pytest.raises(RecordError, match="delete it yourself"):
                write_decision_sheet(facts, path, overwrite=True)
            assert path.read_bytes() == other
    with pytest.raises(RecordError, match=r"sheet\.html"):
        write_decision_sheet(facts, tmp_path / "sheet.doc")
    with pytest.raises(RecordError, match="that exists"):
        write_decision_sheet(facts, tmp_path / "none" / "sheet.html")
    assert {it.name for it in tmp_path.iterdir()} == {"sheet.html", "sheet.PDF"}


def test_distance_that_nobody_chose_is_the_diagonal(facts):
    """Common practice, no source: once the diagonal; 250 mm at least."""
    diagonal_mm = hypot(120, 78.75)
    assert diagonal_mm < 250
    seen_from = rows_of(facts.sharpening)["Seen from"]
    assert seen_from.startswith("250 mm")
    # 144 mm are not 250.
    assert "diagonal" not in seen_from


def test_a_name_that_no_sheet_can_have_is_refused_early(tmp_path):
    with pytest.raises(RecordError, match=r"Name it 'page\.html' or 'page\.pdf'"):
        require_page_name(tmp_path / "page.txt")


def test_small_picture_is_as_light_as_the_master(plan_for, master_of):
    """Full codes of ROMM RGB are its white, and so is 255 of sRGB."""
    master = master_of(np.full((80, 120, 3), 65535, np.uint16))
    picture, _ = small_pictures(build_sheet(master, plan_for(master)))
    with Image.open(io.BytesIO(picture.jpeg)) as shown:
        assert np.asarray(shown).min() >= 254
