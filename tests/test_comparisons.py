"""Other intents and other papers are shown by the same sheet, and none is lost."""

from dataclasses import replace

import numpy as np
import pytest

from printplan.checks import check_pixels
from printplan.colour.intents import (
    CHOICES,
    SHADOW_L,
    SHADOW_STEPS,
    compare_intents,
    shadow_steps,
)
from printplan.colour.tone import tone_steps
from printplan.errors import FitError, SpecError
from printplan.pixels.comparisons import (
    compare_on_papers,
    intent_proofs,
    paper_proofs,
    picture_proof,
    with_choice,
)
from printplan.pixels.consequences import (
    choice_of,
    judged,
    picture_colours,
    plan_wedge,
)
from printplan.pixels.maps import reach_map
from printplan.pixels.sheet import Appearance, build_sheet
from printplan.record.decision_sheet.colour_facts import colour_section
from printplan.spec import ColourSpec, DeliverySpec, Intent

# A print of 40 mm: few enough colours that each of them is judged.
SMALL = {"width_mm": 40.0, "ppi": 150.0, "gain": 0.5}


@pytest.fixture
def sheet(master_of, textured, plan_for):
    master = master_of(textured)
    return build_sheet(master, plan_for(master, **SMALL))


@pytest.fixture
def upright(master_of, textured, plan_for):
    """260 mm high on A4: through the sheet feeder, not through the front slot."""
    master = master_of(np.ascontiguousarray(textured[:, :130]))
    plan = plan_for(
        master,
        paper="Alder Satin 260",
        width_mm=160.0,
        ppi=72.0,
        sheet_mm={"media_size": "A4", "feed": "sheet feeder"},
    )
    return build_sheet(master, plan)


def test_the_proof_lies_pixel_by_pixel_on_the_maps(sheet):
    overview = sheet.overview(400)
    proof = picture_proof(sheet, overview, Appearance.PAPER_ALONE)
    assert proof.shape == (*reach_map(sheet, overview).values.shape, 3)
    box = overview.picture
    whole = sheet.proof(overview.pixels, Appearance.PAPER_ALONE)
    assert (proof == whole[box.top : box.bottom, box.left : box.right]).all()


def test_each_intent_is_proofed_as_its_own_plan_would_be(sheet, plan_for):
    proofs = intent_proofs(sheet, 150, Appearance.PAPER_ALONE)
    # Perceptual and saturation tables of the demo's papers bring black themselves.
    assert [choice.intent for choice, _ in proofs] == [
        Intent.PERCEPTUAL,
        Intent.MEDIA_RELATIVE,
        Intent.MEDIA_RELATIVE,
        Intent.SATURATION,
        Intent.ICC_ABSOLUTE,
    ]
    for choice, pixels in proofs:
        assert pixels.shape[1] == pytest.approx(150, abs=1)
        colour = ColourSpec(
            intent=choice.intent,
            black_point_compensation=choice.black_point_compensation,
        )
        own = build_sheet(sheet.master, plan_for(sheet.master, colour=colour, **SMALL))
        longest = round(150 * max(own.size_px) / own.plan.picture_in_file.width)
        overview = own.overview(longest)
        assert (pixels == picture_proof(own, overview, Appearance.PAPER_ALONE)).all()
    # Compensation lifts the shadows, so these two cannot look the same.
    assert (proofs[1][1] != proofs[2][1]).any()


def test_a_small_print_is_not_enlarged_for_its_proof(sheet):
    ((_, pixels), *_) = intent_proofs(sheet, 50_000, Appearance.PAPER_ALONE)
    picture = sheet.plan.picture_in_file
    assert pixels.shape == (picture.height, picture.width, 3)


def test_another_intent_shares_the_resampled_pixels(sheet):
    other = with_choice(sheet, CHOICES[0])
    assert other.light is sheet.light
    assert other.plan.spec.colour.intent is Intent.PERCEPTUAL
    assert sheet.plan.spec.colour.intent is Intent.MEDIA_RELATIVE


@pytest.mark.slow
def test_judging_a_sheet_is_judging_its_picture_on_its_paper(sheet, paper_profiles):
    judgement = judged(sheet)
    assert [each.choice for each in judgement.judgements] == list(CHOICES)
    lab = picture_colours(sheet)
    assert judgement == compare_intents(
        lab, paper_profiles["Fen Cotton 310"], source=sheet.master.profile
    )


@pytest.mark.slow
def test_every_figure_tells_the_same_shadow_steps(sheet):
    """The tone test, the intents side by side and the findings count one ladder."""
    told = judged(sheet).of(choice_of(sheet.plan.spec.colour)).shadow_steps
    whole = tone_steps(plan_wedge(sheet, np.arange(101.0)))
    assert whole.is_separate[:SHADOW_STEPS].sum() == told
    assert shadow_steps(plan_wedge(sheet, SHADOW_L)) == told
    assert 0 < told < SHADOW_STEPS


@pytest.mark.slow
def test_every_paper_is_compared_with_its_own_recommended_intent(sheet, studio):
    comparison = compare_on_papers(sheet, studio.book.papers)
    names = {each.paper.name for each in comparison.compared}
    assert names == {paper.name for paper in studio.book.papers}
    assert comparison.refused == ()
    costs = [each.judgement.recommended.cost for each in comparison.compared]
    assert costs == sorted(costs)
    for each in comparison.compared:
        colour = each.sheet.plan.spec.colour
        best = each.judgement.recommended.choice
        assert colour.intent is best.intent
        assert colour.black_point_compensation is best.black_point_compensation
        assert each.sheet.output.name.startswith(each.paper.name)
        assert each.sheet.light is sheet.light
    # Matte papers' blacks are far lighter (the demo's own numbers: L* 15.6 and 13.8
    # to 3.4 to 5.2).
    last_two = {each.paper.name for each in comparison.compared[-2:]}
    assert last_two == {"Fen Cotton 310", "Curlew Matte 200"}


@pytest.mark.slow
def test_the_plans_own_feed_is_kept_where_the_paper_can_take_it(sheet, studio):
    comparison = compare_on_papers(sheet, studio.book.papers)
    feeds = {each.paper.name: each.sheet.plan.feed.name for each in comparison.compared}
    assert sheet.plan.feed.name == "front slot"
    assert feeds == {
        "Alder Satin 260": "sheet feeder",
        "Heron Baryta 315": "front slot",
        "Fen Cotton 310": "front slot",
        "Sorrel Gloss 255": "sheet feeder",
        "Curlew Matte 200": "front slot",
    }


def test_the_next_feed_is_taken_where_the_picture_does_not_fit(upright, studio):
    """The paper's own order begins with the path that is too short."""
    paper = studio.book.paper("Heron Baryta 315")
    printer = upright.plan.printer
    pair = replace(paper.on(printer), feeds=("front slot", "sheet feeder"))
    turned = replace(paper, on_printer=(pair,))
    # The plan's own path is none of this paper's, so its order decides.
    plan = replace(upright.plan, feed=replace(upright.plan.feed, name="roll"))
    upright = build_sheet(upright.master, plan)
    comparison = compare_on_papers(upright, [turned])
    assert comparison.compared[0].sheet.plan.feed.name == "sheet feeder"


@pytest.mark.slow
def test_a_paper_without_a_feed_for_the_picture_is_reported(upright, studio):
    comparison = compare_on_papers(upright, studio.book.papers)
    (refused,) = comparison.refused
    assert refused.paper.name == "Fen Cotton 310"
    assert isinstance(refused.error, FitError)
    assert "Choose a picture of at most" in refused.error.remedy
    assert len(comparison.compared) == 4


def test_a_paper_of_another_printer_is_reported(sheet, studio):
    paper = studio.book.paper("Alder Satin 260")
    pair = replace(paper.on_printer[0], printer="Another")
    stranger = replace(paper, on_printer=(pair,))
    comparison = compare_on_papers(sheet, [stranger])
    assert comparison.compared == ()
    assert isinstance(comparison.refused[0].error, SpecError)
    assert "has no settings for" in comparison.refused[0].error.problem


def test_a_paper_whose_profile_is_gone_is_reported(sheet, studio, tmp_path):
    paper = studio.book.paper("Alder Satin 260")
    pair = replace(paper.on_printer[0], profile=str(tmp_path / "gone.icc"))
    comparison = compare_on_papers(sheet, [replace(paper, on_printer=(pair,))])
    assert "gone.icc" in comparison.refused[0].error.problem


@pytest.mark.slow
def test_papers_are_proofed_in_the_order_of_the_comparison(sheet, studio):
    comparison = compare_on_papers(sheet, studio.book.papers)
    proofs = paper_proofs(comparison, 150, Appearance.PAPER_IN_THE_ROOM)
    assert [name for name, _ in proofs] == [
        each.paper.name for each in comparison.compared
    ]
    darkest = {name: int(pixels.sum(axis=2).min()) for name, pixels in proofs}
    # In the room each paper shows its own black.
    assert darkest["Fen Cotton 310"] > darkest["Alder Satin 260"] + 30


@pytest.mark.slow
def test_a_file_in_a_named_space_is_judged_by_that_space(master_of, textured, plan_for):
    """Its matrix has one rendering, so whatever intent is asked is the best one."""
    master = master_of(textured)
    srgb = DeliverySpec(colour="named-space", named_space="sRGB")
    colour = ColourSpec(intent="perceptual")
    sheet = build_sheet(master, plan_for(master, delivery=srgb, colour=colour, **SMALL))
    judgement = judged(sheet)
    assert "for this space" in judgement.reason
    section = colour_section(sheet, judgement)
    rows = {row.what: row.value for row in section.rows}
    assert rows["To"] == sheet.profile.name
    # Relative to the medium, a space's white is that of CIELAB: no number has a sign.
    assert rows["Its ends"] == "white L* 100.0, a* 0.0, b* 0.0; black L* 0.0"
    assert section.words[0].endswith("the one that the numbers recommend.")
    assert "no table for intent" not in [it.topic for it in check_pixels(sheet)]
