"""Every drawing is read in light pages and in dark ones, by any eye."""

from base64 import b64decode
from dataclasses import replace
from io import BytesIO

import html5lib
import numpy as np
import pytest
from matplotlib.colors import to_hex
from matplotlib.text import Text
from PIL import Image

from printplan.colour.difference import delta_e_2000
from printplan.colour.gamut import gamut_mesh
from printplan.colour.gamut_overlap import picture_solid
from printplan.colour.intents import CHOICES, Judgement, PaperJudgement
from printplan.colour.losses import DistanceSummary
from printplan.colour.spaces import (
    decode,
    lab_from_xyz,
    named_profile,
    xyz_d50_from_linear,
)
from printplan.colour.tone import print_wedge
from printplan.colour.transforms import WhiteReference
from printplan.colour.viewing import match_display, paper_reflectance
from printplan.pixels.look_here import LookHere, Reason
from printplan.pixels.typeface import font_at
from printplan.sizing.boxes import Box
from printplan.spec import BlackPointCompensation, Intent, NamedSpace
from printplan.workbook.drawings.comparisons import intents_figure, papers_figure
from printplan.workbook.drawings.gamut import NamedGamut, leaves_figure, slices_figure
from printplan.workbook.drawings.gamut_solid import solid_figure
from printplan.workbook.drawings.light import light_figure, shadow_rooms
from printplan.workbook.drawings.maps import (
    Difference,
    places_figure,
    reach_figure,
    separation_figure,
)
from printplan.workbook.drawings.page import (
    FAINT,
    FIELD,
    GROUND,
    INK,
    LINES,
    as_drawing,
    as_picture,
    wrapped,
)
from printplan.workbook.drawings.tone import tone_figure

# WCAG 2.2 (W3C Recommendation, 2023): success criteria 1.4.3 and 1.4.11.
WCAG_TEXT, WCAG_GRAPHICS = 4.5, 3.0

COLOUR_VISION = ["Protanomaly", "Deuteranomaly", "Tritanomaly"]
PICTURE = np.random.default_rng(5).integers(0, 256, (60, 90, 3), dtype=np.uint8)
MAP = np.linspace(0, 16, 60 * 90, dtype=np.float32).reshape(60, 90)


def contrast(one, other):
    """Contrast ratio of two sRGB colours, 0 to 255: WCAG 2.2, its definition."""
    luminances = []
    for colour in (one, other):
        share = np.asarray(colour, np.float64) / 255
        linear = np.where(
            share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4
        )
        luminances.append(linear @ [0.2126, 0.7152, 0.0722])
    return (max(luminances) + 0.05) / (min(luminances) + 0.05)


def rgb_of(hex_colour):
    return [int(hex_colour[place : place + 2], 16) for place in (1, 3, 5)]


def judgement_of(choice, **changes):
    numbers = {
        "mean_delta_e": 2.5,
        "p95_delta_e": 6.0,
        "tone_dead_share": 0.01,
        "chroma_dead_share": 0.2,
        "shadow_steps": 15,
        "black_lab": (16.0, 0.0, 1.0),
        "white_lab": (96.0, 0.0, 2.0),
        "hue_shift_deg": 3.0,
        "contrast_kept": 0.9,
        "has_own_table": True,
        "cost": 4.0,
    }
    return Judgement(choice=choice, **(numbers | changes))


def paper_judgement():
    judgements = tuple(judgement_of(choice) for choice in CHOICES)
    return PaperJudgement(
        distance=DistanceSummary(share_out=0.4, share_far_out=0.2, p95_delta_e=7.0),
        judgements=judgements,
        recommended=judgements[0],
        reason="Perceptual keeps more.",
    )


@pytest.fixture(scope="module")
def figures(paper_profiles):
    """One of each figure, small."""
    paper = paper_profiles["Fen Cotton 310"]
    source = named_profile(NamedSpace.ROMM_RGB)
    wish = {
        "intent": Intent.MEDIA_RELATIVE,
        "black_point_compensation": BlackPointCompensation.ON,
    }
    shadows = print_wedge(source, paper, source_l=np.arange(21.0), **wish)
    gamuts = [
        NamedGamut("Fen", gamut_mesh(paper, white=WhiteReference.PAPER, steps=9)),
        NamedGamut("sRGB", gamut_mesh(named_profile(NamedSpace.SRGB), steps=9)),
    ]
    lab = np.random.default_rng(1).normal((50, 10, 10), (15, 15, 15), (5000, 3))
    solid = picture_solid(lab)
    judgement = paper_judgement()
    papers = [("One", judgement), ("Two", judgement)]
    pictures = [("One", PICTURE), ("Two", PICTURE)]
    place = LookHere(Box(10, 10, 30, 20), Reason.REACH, "Far out.")
    return {
        "reach": reach_figure(PICTURE, MAP, judgement.distance, paper="Fen"),
        "separation": separation_figure(
            PICTURE, MAP / 16, Difference.TONE, 0.1, paper="Fen", choice="perceptual"
        ),
        "intents": intents_figure(
            [(choice, PICTURE) for choice in CHOICES], judgement, paper="Fen"
        ),
        "papers": papers_figure(papers, pictures, [("Three", "Too large. Shrink it.")]),
        "slices": slices_figure(gamuts, solid),
        "leaves": leaves_figure(gamuts, solid),
        "solid": solid_figure(gamuts[0], gamuts[1]),
        "light": light_figure(
            match_display(500, paper_reflectance(paper), 120),
            shadows,
            shadow_rooms(shadows),
            paper="Fen",
        ),
        "tone": tone_figure(
            print_wedge(source, paper, **wish), paper="Fen", choice="perceptual"
        ),
        "places": places_figure(PICTURE, [place], Box(0, 0, 90, 60)),
    }


NAMES = [
    "reach",
    "separation",
    "intents",
    "papers",
    "slices",
    "leaves",
    "solid",
    "light",
    "tone",
    "places",
]


def drawn(figure):
    """Its pixels, and each word with its colour and place among them."""
    figure.canvas.draw()
    pixels = np.asarray(figure.canvas.buffer_rgba())
    texts = []
    for text in figure.findobj(Text):
        if text.get_visible() and text.get_text().strip():
            box = text.get_window_extent()
            texts.append((text.get_text(), to_hex(text.get_color()), box))
    return pixels, texts


def test_all_figures_are_looked_at(figures):
    assert sorted(figures) == sorted(NAMES)


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_words_stand_out_from_what_is_really_behind_them(figures, name):
    pixels, texts = drawn(figures[name])
    shown = 0
    for words, colour, box in texts:
        part = pixels[
            max(round(pixels.shape[0] - box.y1), 0) : round(pixels.shape[0] - box.y0),
            max(round(box.x0), 0) : round(box.x1),
            :3,
        ]
        if not part.size:
            continue
        assert colour in {INK, FIELD}, words
        values, counts = np.unique(part.reshape(-1, 3), axis=0, return_counts=True)
        behind = values[counts.argmax()]
        assert contrast(rgb_of(colour), behind) >= WCAG_TEXT, words
        shown += 1
    assert shown >= 3


@pytest.mark.parametrize("name", NAMES)
def test_words_are_inside_the_figure(figures, name):
    """Nothing is cut off at the edges."""
    pixels, _ = drawn(figures[name])
    edge = np.concatenate([pixels[0], pixels[-1], pixels[:, 0], pixels[:, -1]])
    assert (edge[:, :3] == rgb_of(GROUND)).all()


@pytest.mark.slow
@pytest.mark.parametrize("name", ["slices", "tone", "light", "solid"])
def test_a_drawing_looks_the_same_on_any_page(figures, name):
    """It is opaque: pasted on white and on #111 it gives the same pixels."""
    png = as_drawing(figures[name], "what it shows").png
    picture = Image.open(BytesIO(png)).convert("RGBA")
    on_pages = []
    for page in ("#ffffff", "#111111"):
        ground = Image.new("RGBA", picture.size, page)
        ground.alpha_composite(picture)
        on_pages.append(np.asarray(ground))
    assert (on_pages[0] == on_pages[1]).all()
    assert (on_pages[0][0, 0, :3] == rgb_of(GROUND)).all()


def test_lines_stand_out_from_the_field():
    for style in LINES:
        assert contrast(rgb_of(style.colour), rgb_of(FIELD)) >= WCAG_GRAPHICS
    assert contrast(rgb_of(INK), rgb_of(GROUND)) >= WCAG_TEXT
    assert contrast(rgb_of(INK), rgb_of(FIELD)) >= WCAG_TEXT
    assert contrast(rgb_of(FAINT), rgb_of(FIELD)) >= WCAG_GRAPHICS


def test_lines_differ_without_their_colour():
    assert len({style.dashes for style in LINES}) == len(LINES)
    assert len({style.marker for style in LINES}) == len(LINES)


@pytest.mark.parametrize("vision", COLOUR_VISION)
def test_lines_that_share_a_field_differ_for_every_eye(vision):
    # Machado, Oliveira & Fernandes (2009), doi:10.1109/TVCG.2009.113, severity 1.
    import colour  # noqa: PLC0415 - a second to load

    matrix = np.array(colour.CVD_MATRICES_MACHADO2010[vision][1.0])
    codes = np.array([rgb_of(style.colour) for style in LINES]) / 255
    linear = decode(NamedSpace.SRGB, codes) @ matrix.T
    to_xyz = xyz_d50_from_linear(NamedSpace.SRGB)
    lab = lab_from_xyz(np.clip(linear, 0, 1) @ to_xyz.T)
    apart = delta_e_2000(lab[:, None], lab[None])
    # 5 dE00 is plainly seen side by side.
    assert apart[~np.eye(len(LINES), dtype=bool)].min() > 5


def test_a_drawing_tells_what_it_shows(figures):
    drawing = as_drawing(figures["tone"], 'The "tone" test.')
    assert repr(drawing) == 'The "tone" test.'
    parsed = html5lib.parseFragment(drawing._repr_html_(), namespaceHTMLElements=False)
    (image,) = parsed.iter("img")
    assert image.get("alt") == 'The "tone" test.'
    assert image.get("width") == "1080"
    png = b64decode(image.get("src").removeprefix("data:image/png;base64,"))
    # Two pixels for one of the page.
    assert Image.open(BytesIO(png)).width == 2160


def test_photographs_are_kept_small(figures):
    picture = as_picture(figures["reach"], "The reach map.")
    image = Image.open(BytesIO(picture.jpeg))
    assert image.format == "JPEG"
    assert image.width == 2 * picture.width_css_px
    assert "icc_profile" not in image.info


def test_wrapped_lines_keep_their_width_and_their_words():
    words = "Whether that matters depends on whether the picture has detail there " * 3
    lines = wrapped(words, 300, 9.5)
    assert " ".join(lines).split() == words.split()
    # 9.5 pt at 100 px per inch are 13.2 px.
    assert all(font_at(132).getlength(line) <= 3000 for line in lines)
    assert wrapped("one-word-that-is-longer-than-the-line", 20) == [
        "one-word-that-is-longer-than-the-line"
    ]


def test_no_figure_is_known_to_pyplot(figures):
    """Drawings made in a loop do not pile up in memory."""
    from matplotlib import pyplot as plt  # noqa: PLC0415 - slow to load

    assert figures
    assert plt.get_fignums() == []


# Intents and papers


def texts_of(figure):
    return " ".join(text.get_text() for text in figure.findobj(Text))


def test_the_recommended_intent_is_named_by_a_word_over_its_own_column():
    judgement = paper_judgement()
    for best in judgement.judgements:
        figure = intents_figure(
            [(choice, PICTURE) for choice in CHOICES],
            replace(judgement, recommended=best),
            paper="Fen",
        )
        figure.canvas.draw()
        marks = [
            text for text in figure.findobj(Text) if text.get_text() == "recommended"
        ]
        assert len(marks) == 1
        place = marks[0].get_window_extent()
        boxes = [
            image.get_window_extent() for axes in figure.axes for image in axes.images
        ]
        assert len(boxes) == len(CHOICES)
        (over,) = [
            number
            for number, box in enumerate(boxes)
            if box.x0 < (place.x0 + place.x1) / 2 < box.x1
        ]
        assert place.y0 > max(box.y1 for box in boxes)
        assert CHOICES[over] == best.choice


def test_intents_show_their_numbers_and_the_reason():
    judgement = paper_judgement()
    odd = judgement_of(
        CHOICES[3], mean_delta_e=12.34, shadow_steps=3, has_own_table=False
    )
    judgements = (*judgement.judgements[:3], odd, *judgement.judgements[4:])
    figure = intents_figure(
        [(choice, PICTURE) for choice in CHOICES],
        replace(judgement, judgements=judgements),
        paper="Fen",
    )
    words = texts_of(figure)
    assert "12.3" in words
    assert words.count("no own table") == 1
    assert "Perceptual keeps more." in words
    for choice in CHOICES:
        for word in choice.words.split():
            assert word in words


def test_only_the_best_numbers_of_a_row_are_bold():
    judgement = paper_judgement()
    odd = judgement_of(CHOICES[2], mean_delta_e=1.0, contrast_kept=1.0)
    judgements = (*judgement.judgements[:2], odd, *judgement.judgements[3:])
    figure = intents_figure(
        [(choice, PICTURE) for choice in CHOICES],
        replace(judgement, judgements=judgements),
        paper="Fen",
    )
    bold = {
        text.get_text()
        for text in figure.findobj(Text)
        if text.get_fontweight() == "bold"
    }
    # Where all are equal none is the best; the heading of the recommended is bold.
    assert bold == {"1.0", "100%", "recommended", "perceptual with\ncompensation"}


def test_a_paper_that_cannot_take_the_print_is_named_with_its_reason():
    judgement = paper_judgement()
    refusals = [("Broad Cotton", "The picture is 400.0 mm wide. Choose 380 mm.")]
    figure = papers_figure([("One", judgement)], [("One", PICTURE)], refusals)
    words = texts_of(figure).replace("\n", " ")
    assert "Broad Cotton was not compared: The picture is 400.0 mm wide." in words
    assert "keeps most" in words


def test_no_paper_at_all_is_an_error_with_the_first_reason():
    with pytest.raises(ValueError, match=r"None of 1 papers.*Choose 380 mm"):
        papers_figure([], [], [("Broad", "It is 400 mm wide. Choose 380 mm.")])
