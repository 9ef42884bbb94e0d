"""Each public name is at the door, with its source and an example that runs."""

import inspect
import re

import pytest

import printplan
from printplan import colour, sharpening, sizing

FAMILIES = (sizing, sharpening, colour)
NAMES = [(family, name) for family in FAMILIES for name in family.__all__]


@pytest.mark.parametrize(
    ("family", "name"), NAMES, ids=[f"{it.__name__[10:]}.{name}" for it, name in NAMES]
)
def test_a_name_is_the_same_at_the_top_and_has_an_example(family, name):
    """Examples run as doctests: pytest collects the package."""
    found = getattr(family, name)
    assert getattr(printplan, name) is found
    assert found.__module__.startswith(family.__name__)
    document = inspect.getdoc(found)
    assert ">>> " in document
    example = document.split("Examples\n--------\n")[1]
    lines = [line for line in example.splitlines() if line.startswith((">>>", "..."))]
    assert 1 <= len(lines) <= 6
    if inspect.isfunction(found) and inspect.signature(found).parameters:
        assert re.search(r"^Parameters\n-+\n", document, re.MULTILINE)


def test_families_hold_what_a_student_looks_for():
    wanted = {
        sizing: "print_size_mm print_size_px acuity_ppi effective_ppi true_resolution "
        "resample lay_out media_size_mm",
        sharpening: "unsharp_mask gaussian_kernel kernel_of halo_of edge_sfr "
        "spread_mtf contrast_sensitivity measure_content choose_sharpening "
        "seen_on_paper",
        colour: "profile_facts soft_proof convert compare_intents "
        "compensate_black_point delta_e_2000 gamut_volume coverage gamut_distance "
        "section_at_hue section_at_lightness separation tone_steps match_display",
    }
    for family, names in wanted.items():
        assert set(names.split()) <= set(family.__all__)


def test_engine_and_families_are_one():
    """No façade: the stages of a file call the array kernels of the families."""
    from printplan.pixels import resampled_light, stages  # noqa: PLC0415
    from printplan.sharpening import unsharp  # noqa: PLC0415
    from printplan.sizing import resampling  # noqa: PLC0415

    assert stages.add_mask is unsharp.add_mask
    assert stages.blurred is unsharp.blurred
    assert resampled_light.resample_part is resampling.resample_part
