import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printplan.errors import SpecError
from printplan.sizing.media_sizes import (
    canonical_media_size,
    known_media_sizes,
    media_size_mm,
    pwg_media_size_name,
    roll_width_mm,
)

# ISO 216:2007, tables 1 (A) and 2 (B), width × height in mm, sizes 0 to 10.
ISO_216 = {
    "A": "841x1189 594x841 420x594 297x420 210x297 148x210 105x148 74x105 52x74 "
    "37x52 26x37",
    "B": "1000x1414 707x1000 500x707 353x500 250x353 176x250 125x176 88x125 62x88 "
    "44x62 31x44",
}
ISO_SIZES = [
    (f"{letter}{number}", tuple(float(edge) for edge in edges.split("x")))
    for letter, row in ISO_216.items()
    for number, edges in enumerate(row.split())
]

# The grammar of PWG 5101.1-2023, clause 5, as the working group publishes it in
# pwg5101.1-media-name-abnf.txt; the 2013 edition has the same rules for these classes.
PWG_DIM = r"(?:[1-9][0-9]*(?:\.[0-9]*)?|0\.[0-9]*)"
PWG_NAME = re.compile(
    r"(?:(?:custom|na|asme|roc|oe|roll)_(?P<in_name>[a-z0-9][a-z0-9.-]*)"
    rf"_(?P<in_short>{PWG_DIM})x(?P<in_long>{PWG_DIM})in"
    r"|(?:custom|iso|jis|jpn|prc|om|roll)_(?P<mm_name>[a-z0-9][a-z0-9.-]*)"
    rf"_(?P<mm_short>{PWG_DIM})x(?P<mm_long>{PWG_DIM})mm)"
)

edges = st.decimals(1, 999, places=2).map(lambda number: f"{number.normalize():f}")
units = st.sampled_from(["in", "mm", "cm"])


@pytest.mark.parametrize(("name", "edges_mm"), ISO_SIZES)
def test_iso_sizes_are_those_of_the_standard(name, edges_mm):
    assert media_size_mm(name) == edges_mm
    assert name in known_media_sizes()


@pytest.mark.parametrize(
    ("name", "width_mm", "height_mm"),
    [
        # By the international inch of exactly 25.4 mm, multiplied by hand.
        ("8x10 in", 203.2, 254.0),
        ("8.5x11 in", 215.9, 279.4),
        ("11x14 in", 279.4, 355.6),
        ("11x17 in", 279.4, 431.8),
        ("13x19 in", 330.2, 482.6),
        ("16x20 in", 406.4, 508.0),
        ("17x22 in", 431.8, 558.8),
        ("24x36 in", 609.6, 914.4),
        ("30x40 cm", 300.0, 400.0),
        ("100x150 mm", 100.0, 150.0),
    ],
)
def test_other_sizes_go_by_their_edges(name, width_mm, height_mm):
    assert media_size_mm(name) == pytest.approx((width_mm, height_mm), abs=1e-9)


@pytest.mark.parametrize(
    ("written", "canonical"),
    [
        ("a4", "A4"),
        (" A 4 ", "A4"),
        ("b10", "B10"),
        ("210x297mm", "A4"),
        ("29.7 × 21 cm", "A4"),
        ("13X19in", "13x19 in"),
        ("13×19 in", "13x19 in"),
        ("19 x 13.00 inches", "13x19 in"),
        ('13" x 19"', "13x19 in"),
        ("8.50x11 In", "8.5x11 in"),
        ("330.2x482.6 mm", "330.2x482.6 mm"),
    ],
)
def test_one_sheet_has_one_name(written, canonical):
    assert canonical_media_size(written) == canonical


@settings(max_examples=50)
@given(edges, edges, units)
def test_canonical_name_is_the_same_sheet_in_portrait(first, second, unit):
    written = f"{first}x{second} {unit}"
    try:
        width_mm, height_mm = media_size_mm(written)
    except SpecError as error:
        assert "5 to 60000 mm" in error.remedy  # noqa: PT017 - the other half counts
        return
    assert width_mm <= height_mm
    canonical = canonical_media_size(written)
    assert canonical_media_size(canonical) == canonical
    assert media_size_mm(canonical) == (width_mm, height_mm)


@pytest.mark.parametrize("name", known_media_sizes())
def test_known_sizes_are_canonical(name):
    assert canonical_media_size(name) == name


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("A33", "A3"),
        ("A3++", r"A3\+"),
        ("Tabloyd", "Tabloid"),
        ("12x18", "12x18 in"),
        ("13x19 ni", "13x19 in"),
        ("11xx14 in", "11x14 in"),
    ],
)
def test_unknown_size_names_the_nearest(name, meant):
    with pytest.raises(SpecError, match=f'Did you mean "{meant}"'):
        media_size_mm(name)


# ANSI/ASME Y14.1: size A is 8.5 × 11 in, size B 11 × 17 in. PWG 5101.1: legal is 8.5 ×
# 14 in. A3+ and edges without a unit: common practice, no source.
TRADE = {
    "Letter": ("8.5x11 in", 215.9, 279.4),
    "LEGAL": ("8.5x14 in", 215.9, 355.6),
    "tabloid": ("11x17 in", 279.4, 431.8),
    "Ledger": ("11x17 in", 279.4, 431.8),
    "A3+": ("13x19 in", 330.2, 482.6),
    "a3 +": ("13x19 in", 330.2, 482.6),
    "Super B": ("13x19 in", 330.2, 482.6),
    "8x10": ("8x10 in", 203.2, 254.0),
    "10 × 8": ("8x10 in", 203.2, 254.0),
    "11x14": ("11x14 in", 279.4, 355.6),
    "17x22": ("17x22 in", 431.8, 558.8),
}


@pytest.mark.parametrize("name", TRADE)
def test_sizes_of_the_trade_go_by_their_names(name):
    kept, width_mm, height_mm = TRADE[name]
    assert canonical_media_size(name) == kept
    assert media_size_mm(name) == pytest.approx((width_mm, height_mm))
    assert kept in known_media_sizes()


@pytest.mark.parametrize("name", ["30x40", "24x30", "18x24", "9x12", "300x400"])
def test_edges_that_may_be_centimetres_want_a_unit(name):
    with pytest.raises(SpecError, match="not known"):
        media_size_mm(name)


@pytest.mark.parametrize("name", ["", "custom", "lettre", "x", "A-1", "A٤", "٣x٤ in"])
def test_unknown_size_says_how_to_write_one(name):
    with pytest.raises(SpecError, match="Name an ISO 216 size, one of the trade"):
        media_size_mm(name)


@pytest.mark.parametrize("name", ["0x10 in", "4x100 mm", "0.1x10 in", "10x6000.1 cm"])
def test_absurd_size_is_refused(name):
    ends = "0.2 to 2362.2 in" if name.endswith("in") else "5 to 60000 mm"
    with pytest.raises(SpecError, match=f"from {re.escape(ends)}"):
        media_size_mm(name)


def test_two_units_are_refused():
    with pytest.raises(SpecError, match="Give both edges in one"):
        media_size_mm("13 in x 19 cm")


@pytest.mark.parametrize(
    ("name", "described"),
    [
        # Names of PWG 5101.1-2013; all but the ISO ones are from memory.
        ("A4", "iso_a4_210x297mm"),
        ("b1", "iso_b1_707x1000mm"),
        ("8.5x11 in", "na_letter_8.5x11in"),
        ("11x17 in", "na_ledger_11x17in"),
        ("13x19 in", "na_super-b_13x19in"),
        ("24x36 in", "na_arch-d_24x36in"),
        # Ours, by the grammar.
        ("12x12 in", "custom_12x12_12x12in"),
        ("0.5x1 in", "custom_0.5x1_0.5x1in"),
        ("30x40 cm", "custom_300x400_300x400mm"),
    ],
)
def test_pwg_name_is_that_of_the_standard(name, described):
    assert pwg_media_size_name(name) == described


@settings(max_examples=50)
@given(
    st.sampled_from(known_media_sizes()) | st.builds("{}x{} in".format, edges, edges)
)
def test_pwg_name_follows_the_grammar_and_holds_the_edges(name):
    try:
        edges_mm = media_size_mm(name)
    except SpecError:
        return
    described = PWG_NAME.fullmatch(pwg_media_size_name(name))
    unit = "in" if described["in_name"] else "mm"
    named = f"{described[f'{unit}_short']}x{described[f'{unit}_long']} {unit}"
    assert media_size_mm(named) == edges_mm


# 24 and 44 inches are the trade's usual rolls: common practice, no source. An inch is
# 25.4 mm by the international yard and pound agreement of 1959.
@pytest.mark.parametrize(
    ("name", "width_mm"),
    [
        ("24 in", 609.6),
        ("24in roll", 609.6),
        ('24" roll', 609.6),
        ("Roll 44 in", 1117.6),
        ("44 in", 1117.6),
        ("61 cm roll", 610.0),
        ("610 mm", 610.0),
        ("A2", None),
        ("24x36 in", None),
        ("24", None),
    ],
)
def test_one_length_with_its_unit_is_a_roll(name, width_mm):
    found = roll_width_mm(name)
    assert found == (width_mm if width_mm is None else pytest.approx(width_mm))


def test_edge_out_of_range_is_told_in_the_unit_that_was_typed():
    with pytest.raises(SpecError, match=r"edge of 0\.1 in.*from 0\.2 to 2362\.2 in"):
        media_size_mm("0.1x5 in")
