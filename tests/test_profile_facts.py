import numpy as np
import pytest

from printplan.colour.conversion import linear_to_device
from printplan.colour.facts import profile_facts
from printplan.colour.icc_file import IccHeader, read_icc, text_element, write_icc
from printplan.colour.profile_gate import require_output_profile
from printplan.colour.profiles import profile_from_bytes
from printplan.colour.spaces import named_profile
from printplan.errors import ProfileError
from printplan.spec import BlackPointCompensation, Intent, NamedSpace


def test_press_profile_tells_its_paper_and_black(fogra39):
    facts = profile_facts(fogra39)
    # FOGRA39L characterization data: paper 95, 0, -2, solid black 16, 0, 0. The
    # darkest corner is the overprint of four solids, darker than that.
    assert facts.white_lab == pytest.approx((95, 0, -2), abs=0.1)
    assert facts.black_lab[0] < 16
    assert facts.device_class == "output"
    assert (facts.space, facts.pcs, facts.version) == ("CMYK", "Lab", "2.2")
    assert set(facts.intents) == set(Intent)
    assert facts.sha256 == fogra39.sha256


def test_density_of_paper_follows_from_its_lightness(fogra39):
    # CIE L* 95 has Y = 0.8757, so density is -log10 of that.
    assert profile_facts(fogra39).white_density == pytest.approx(
        -np.log10(0.8757), abs=2e-3
    )


def test_working_space_has_two_intents_and_no_black_limit():
    facts = profile_facts(named_profile(NamedSpace.SRGB))
    assert facts.intents == (Intent.MEDIA_RELATIVE, Intent.ICC_ABSOLUTE)
    assert facts.white_lab == pytest.approx((100, 0, 0), abs=0.02)
    assert facts.black_density == float("inf")


WISH = {
    "intent": Intent.MEDIA_RELATIVE,
    "black_point_compensation": BlackPointCompensation.OFF,
}


def rewritten(profile, **changes):
    icc = read_icc(profile.data, where="a test")
    tags = {**icc.tags, **changes}
    return profile_from_bytes(
        write_icc(icc.header, {tag: data for tag, data in tags.items() if data}),
        where="a test",
    )


def test_truncated_table_is_a_clear_error(paper_profiles):
    sound = paper_profiles["Fen Cotton 310"]
    table = read_icc(sound.data, where="a test").tags["B2A1"]
    with pytest.raises(ProfileError, match="Fetch the profile again"):
        rewritten(sound, B2A1=table[: len(table) // 2])


def test_profile_without_way_to_the_device_is_a_clear_error(paper_profiles):
    sound = paper_profiles["Fen Cotton 310"]
    one_way = rewritten(sound, B2A0=b"", B2A1=b"", B2A2=b"", gamt=b"")
    with pytest.raises(ProfileError, match="made for this paper"):
        linear_to_device(named_profile(NamedSpace.SRGB), one_way, **WISH)


def test_missing_intent_falls_to_the_perceptual_table_as_in_icc(paper_profiles):
    """ICC.1:2022, 9.2.1 table 25: B2A0 serves where an intent has none."""
    sound = paper_profiles["Fen Cotton 310"]
    only_perceptual = rewritten(sound, B2A1=b"", B2A2=b"")
    linear = np.random.default_rng(0).random((3, 1, 50), np.float32)
    source = named_profile(NamedSpace.SRGB)
    off = BlackPointCompensation.OFF
    as_saturation = linear_to_device(
        source, only_perceptual, intent=Intent.SATURATION, black_point_compensation=off
    ).from_linear(linear)
    perceptual = linear_to_device(
        source, sound, intent=Intent.PERCEPTUAL, black_point_compensation=off
    ).from_linear(linear)
    assert np.array_equal(as_saturation, perceptual)


@pytest.mark.parametrize("kind", ["mntr", "scnr", "link", "abst", "nmcl"])
def test_only_output_profiles_serve_a_paper(kind, paper_profiles):
    sound = read_icc(paper_profiles["Fen Cotton 310"].data, where="a test")
    header = IccHeader(version=(2, 4), device_class=kind, space="RGB", pcs="Lab")
    other = profile_from_bytes(write_icc(header, sound.tags), where="a test")
    with pytest.raises(ProfileError, match="made for this paper"):
        require_output_profile(other)


def test_profile_for_a_space_without_device_is_refused():
    header = IccHeader(version=(2, 4), device_class="prtr", space="Lab", pcs="Lab")
    strange = profile_from_bytes(
        write_icc(header, {"cprt": text_element("none")}), where="a test"
    )
    with pytest.raises(ProfileError, match="grey, RGB or CMYK"):
        require_output_profile(strange)


def test_cmyk_output_serves_an_rgb_master(fogra39):
    linear = np.ones((3, 1, 1), np.float32)
    done = linear_to_device(named_profile(NamedSpace.SRGB), fogra39, **WISH)
    assert done.from_linear(linear).shape == (1, 1, 4)
