"""
What is told of a print is what its file holds.

Random plans are rendered. What the package says of their colours is held to figures
computed from the rendered TIFF alone: LittleCMS' own command line reads the file's
numbers by the profile, and plain numpy takes differences.
"""

import re
from dataclasses import replace
from functools import cache

import colour
import numpy as np
import outside_tools
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from printplan.colour.intents import SHADOW_L, SHADOW_STEPS
from printplan.colour.spaces import named_profile
from printplan.pixels.consequences import (
    choice_of,
    consequences,
    judged,
    plan_wedge,
)
from printplan.pixels.master import open_master
from printplan.pixels.render import render
from printplan.pixels.sheet import build_sheet
from printplan.plan import resolve
from printplan.record.decision_sheet.colour_facts import colour_section
from printplan.spec import (
    BlackPointCompensation,
    ColourSpec,
    Delivery,
    DeliverySpec,
    Extent,
    Intent,
    NamedSpace,
    PrintSpec,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)

ROMM = named_profile(NamedSpace.ROMM_RGB)
PPI = 72.0
COLUMNS, ROWS = 20, 9
PATCH_PX = 9
"""Wide enough that sharpening leaves the middle of an even patch alone."""

TRANSICC_INTENT = {
    Intent.PERCEPTUAL: "0",
    Intent.MEDIA_RELATIVE: "1",
    Intent.SATURATION: "2",
    Intent.ICC_ABSOLUTE: "3",
}
PRESS = "press"
PAPERS = (
    "Fen Cotton 310",
    "Heron Baryta 315",
    "Alder Satin 260",
    "Sorrel Gloss 255",
    "Curlew Matte 200",
    PRESS,
)
"""All of the demo's, of which one is of version 4 and one has a perceptual table that
does not move black, and a real press condition."""
PICTURES = ("seed-heads", "red-bowl", "stream", "low key", "strong colours")

# Two hundredths of the range of a share, a tenth of a dE00 or of L*: what a reader
# of the sheet may rely on.
SHARE, DELTA = 0.02, 0.1


# The colours, without the package: CIE 015:2018, 8.2.1, and ISO 22028-2.


def lab_of(xyz):
    """CIELAB under the connection space's D50 (ICC.1:2022, 7.2.16)."""
    share = xyz / [0.9642, 1.0, 0.8249]
    root = np.where(
        share > (6 / 29) ** 3, np.cbrt(share), share * (29 / 6) ** 2 / 3 + 4 / 29
    )
    x, y, z = np.moveaxis(root, -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], -1)


def xyz_of(lab):
    y = (lab[..., 0] + 16) / 116
    root = np.stack([y + lab[..., 1] / 500, y, y - lab[..., 2] / 200], -1)
    share = np.where(root > 6 / 29, root**3, 3 * (6 / 29) ** 2 * (root - 4 / 29))
    return share * [0.9642, 1.0, 0.8249]


# Primaries of ISO 22028-2 under D50, columns X, Y and Z of red, green and blue, as the
# sum of chromaticities that gives the white.
_XY = np.array([[0.7347, 0.2653], [0.1596, 0.8404], [0.0366, 0.0001]])
_ENDS = np.stack([_XY[:, 0] / _XY[:, 1], np.ones(3), (1 - _XY.sum(1)) / _XY[:, 1]])
ROMM_XYZ = _ENDS * np.linalg.solve(_ENDS, [0.9642, 1.0, 0.8249])


def romm_codes(lab):
    """16-bit codes of ISO 22028-2."""
    linear = np.clip(xyz_of(lab) @ np.linalg.inv(ROMM_XYZ).T, 0, 1)
    codes = np.where(linear < 1 / 512, 16 * linear, linear ** (1 / 1.8))
    return np.rint(codes * 65535).astype(np.uint16)


def romm_linear(codes):
    shares = codes / 65535
    return np.where(shares < 16 / 512, shares / 16, shares**1.8)


def lightened(linear, rise_l):
    """L* up by a parabola, in light, all channels by one factor."""
    before = lab_of(linear @ ROMM_XYZ.T)[..., 0]
    after = before + 4 * rise_l * before / 100 * (1 - before / 100)
    y = np.stack([np.stack([it, 0 * it, 0 * it], -1) for it in (before, after)])
    y_before, y_after = xyz_of(y)[..., 1]
    factor = y_after / np.maximum(y_before, 1e-9)
    return np.clip(linear * factor[..., None], 0, 1)


@cache
def picture_lab(name, folder):
    """180 colours of a picture, all well inside the working space."""
    rng = np.random.default_rng(PICTURES.index(name))
    count = COLUMNS * ROWS
    if name == "low key":
        lab = np.stack([rng.uniform(2, 22, count), *rng.normal(0, 3, (2, count))], -1)
    elif name == "strong colours":
        turn, chroma = rng.uniform(0, 2 * np.pi, count), rng.uniform(20, 75, count)
        lab = np.stack(
            [rng.uniform(25, 85, count), chroma * np.cos(turn), chroma * np.sin(turn)],
            -1,
        )
    else:
        with Image.open(folder / f"{name}.jpg") as photograph:
            small = np.asarray(photograph.convert("RGB").resize((COLUMNS, ROWS)))
        codes = small.reshape(-1, 3) / 255
        # IEC 61966-2-1, then its published matrix, adapted to D50 by Bradford's.
        linear = np.where(
            codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4
        )
        srgb_d50 = np.array(
            [
                [0.4360, 0.3851, 0.1431],
                [0.2225, 0.7169, 0.0606],
                [0.0139, 0.0971, 0.7139],
            ]
        )
        # Stronger than the photograph, so that some colours leave every paper.
        lab = lab_of(linear @ srgb_d50.T) * [1, 1.4, 1.4]
    lab[:, 0] = np.clip(lab[:, 0], 1.5, 98)
    for _ in range(60):
        linear = xyz_of(lab) @ np.linalg.inv(ROMM_XYZ).T
        strong = (linear < 0.0005).any(1) | (linear > 0.97).any(1)
        lab[strong] *= [1, 0.93, 0.93]
    # What 16 bits hold of them.
    return lab_of(romm_linear(romm_codes(lab)) @ ROMM_XYZ.T)


def patches(lab, rows):
    codes = romm_codes(lab).reshape(rows, COLUMNS, 3)
    return np.kron(codes, np.ones((PATCH_PX, PATCH_PX, 1), np.uint16))


def chart(lab):
    """The picture, the same a unit of L* up and down, and a grey wedge."""
    unit = np.array([1.0, 0, 0])
    greys = np.zeros((2 * COLUMNS, 3))
    greys[: SHADOW_STEPS + 1, 0] = np.arange(SHADOW_STEPS + 1)
    greys[SHADOW_STEPS + 1 :, 0] = 100
    return np.concatenate(
        [
            patches(lab, ROWS),
            patches(lab + unit, ROWS),
            patches(lab - unit, ROWS),
            patches(greys, 2),
        ]
    )


class Desk:
    """Papers, masters and what is told of them, each made once."""

    def __init__(self, studio, fogra39_path, photographs, folder):
        self.book, self.printer = studio.book, studio.book.printers[0]
        self.photographs, self.folder = photographs, folder
        self.press = fogra39_path
        self.masters, self.told_of = {}, {}

    def paper(self, name):
        if name != PRESS:
            return self.book.paper(name)
        paper = self.book.paper(PAPERS[0])
        pair = replace(paper.on(self.printer), profile=str(self.press))
        return replace(paper, name=PRESS, on_printer=(pair,))

    def lab(self, picture):
        return picture_lab(picture, self.photographs)

    def master(self, picture, what):
        """The bare picture, a pixel for each colour, or its chart."""
        if (picture, what) not in self.masters:
            lab = self.lab(picture)
            pixels = chart(lab) if what == "chart" else romm_codes(lab)
            if what == "bare":
                pixels = pixels.reshape(ROWS, COLUMNS, 3)
                # No print is so small: each colour as often as another.
                pixels = np.tile(pixels, (3, 3, 1))
            path = self.folder / f"{picture}-{what}.tif"
            tifffile.imwrite(
                path, pixels, photometric="rgb", iccprofile=ROMM.data, metadata=None
            )
            self.masters[picture, what] = open_master(path)
        return self.masters[picture, what]

    def sheet(self, picture, what, paper, **spec):
        master, paper = self.master(picture, what), self.paper(paper)
        width_mm = master.facts.width_px * 25.4 / PPI
        wish = PrintSpec(
            size=SizeSpec(rule=SizeRule.WIDTH, width_mm=width_mm, ppi=PPI),
            sheet=SheetSpec(media_size="A2", feed=paper.on(self.printer).feeds[0]),
            **spec,
        )
        return build_sheet(master, resolve(master.facts, paper, self.printer, wish))

    def told(self, sheet, key):
        if key not in self.told_of:
            self.told_of[key] = judged(sheet)
        return self.told_of[key]


@pytest.fixture(scope="module")
def desk(studio, fogra39_path, photographs, tmp_path_factory):
    made = Desk(studio, fogra39_path, photographs, tmp_path_factory.mktemp("told"))
    yield made
    for master in made.masters.values():
        master.close()


def transicc(rows, source, target, intent, folder, *, compensated=False):
    """Device values as 0 to 1, or CIELAB, through LittleCMS' own command line."""
    command = [f"-t{TRANSICC_INTENT[intent]}"]
    for flag, profile in (("-i", source), ("-o", target)):
        if isinstance(profile, str):
            command.append(flag + profile)
            continue
        path = folder / f"{flag[1]}.icc"
        path.write_bytes(profile.data)
        command.append(f"{flag}{path}")
    if compensated:
        command.append("-b")
    scale = {"CMYK": 100, "RGB": 255}
    out = outside_tools.transicc(rows * scale[source.space], *command)
    if isinstance(target, str):
        return out
    return np.clip(out / scale[target.space], 0, 1)


class InFile:
    """The figures of a rendered chart, by the middle of each of its patches."""

    def __init__(self, path, sheet, lab, rise_l, folder):
        pixels = tifffile.imread(path)
        half, channels = PATCH_PX // 2, pixels.shape[-1]
        rows = pixels[half::PATCH_PX, half::PATCH_PX].reshape(-1, channels) / 65535
        plan = sheet.plan
        colour_spec, target = plan.spec.colour, sheet.delivered
        if plan.delivery.colour is Delivery.WORKING_COLOUR:
            # What the print dialogue is asked to do with the file.
            rows = transicc(
                rows,
                sheet.profile,
                target,
                colour_spec.intent,
                folder,
                compensated=colour_spec.black_point_compensation
                is BlackPointCompensation.ON,
            )
        relative, absolute = (
            transicc(rows, target, "*Lab4", intent, folder)
            for intent in (Intent.MEDIA_RELATIVE, Intent.ICC_ABSOLUTE)
        )
        count = COLUMNS * ROWS
        linear = romm_linear(romm_codes(lab))
        master = lab_of(lightened(linear, rise_l) @ ROMM_XYZ.T)
        base, above, below = relative[: 3 * count].reshape(3, count, 3)
        difference = colour.delta_E(master, base, method="CIE 2000")
        self.mean, self.p95 = difference.mean(), np.percentile(difference, 95)
        left = np.linalg.norm(above - below, axis=1) / 2
        # Our reading of the paper's table and LittleCMS's may be `DELTA` apart at both
        # ends of a step of 2 L*: what is left is known by half of it.
        self.least_merged_share, self.most_merged_share = (
            (left < 0.1 + slack).mean() for slack in (-DELTA / 2, DELTA / 2)
        )
        self.greys = relative[3 * count :][: SHADOW_STEPS + 1]
        wedge = absolute[3 * count :]
        self.shadow_steps = (np.diff(wedge[: SHADOW_STEPS + 1, 0]) >= 0.5).sum()
        self.black, self.white = wedge[0], wedge[-1]
        device = rows[:count]
        self.at_limit_share = ((device <= 0) | (device >= 1)).any(axis=1).mean()


ON = BlackPointCompensation.ON
SHARPENING = (
    SharpenSpec(),
    SharpenSpec(gain=1.5, radius_mm=0.2),
    SharpenSpec(gain=3.0, radius_mm=0.3, halo_limit_share=0.05, grain_floor_l=0.5),
)
DELIVERIES = (
    DeliverySpec(extent=Extent.PICTURE),
    DeliverySpec(colour=Delivery.WORKING_COLOUR, extent=Extent.PICTURE),
    *(
        DeliverySpec(
            colour=Delivery.NAMED_SPACE, named_space=space, extent=Extent.PICTURE
        )
        for space in (NamedSpace.SRGB, NamedSpace.OPRGB)
    ),
)


@pytest.mark.tools("transicc")
@settings(max_examples=300, derandomize=True, deadline=None)
@given(
    picture=st.sampled_from(PICTURES),
    paper=st.sampled_from(PAPERS),
    intent=st.sampled_from(list(Intent)),
    compensation=st.sampled_from(list(BlackPointCompensation)),
    delivery=st.sampled_from(DELIVERIES),
    sharpen=st.sampled_from(SHARPENING),
    rise_l=st.sampled_from([0.0, 0.0, 4.0]),
)
def test_what_is_told_is_in_the_file(
    desk, picture, paper, intent, compensation, delivery, sharpen, rise_l
):
    spec = {
        "colour": ColourSpec(
            intent=intent, black_point_compensation=compensation, lighten_l=rise_l
        ),
        "delivery": delivery,
        "sharpen": sharpen,
    }
    bare = desk.sheet(picture, "bare", paper, **spec)
    judgement = desk.told(bare, (picture, paper, delivery, rise_l))
    told = judgement.of(choice_of(bare.plan.spec.colour))
    printed = desk.sheet(picture, "chart", paper, **spec)
    path = desk.folder / "print.tif"
    path.unlink(missing_ok=True)
    render(printed, path)
    found = InFile(path, printed, desk.lab(picture), rise_l, desk.folder)
    assert told.mean_delta_e == pytest.approx(found.mean, abs=DELTA)
    assert told.p95_delta_e == pytest.approx(
        found.p95, abs=max(DELTA, 0.02 * found.p95)
    )
    assert told.shadow_steps == found.shadow_steps
    assert told.black_lab == pytest.approx(found.black, abs=DELTA)
    assert told.white_lab == pytest.approx(found.white, abs=DELTA)
    # The decision sheet, in its own words and digits.
    row = {it.what: it.value for it in colour_section(bare, judgement).rows}
    merged, steps, mean, black = map(
        float,
        re.search(
            r"([\d.]+)% of tones merge, (\d+) of .* mean ([\d.]+) dE00.*\|L\* ([\d.]+)",
            f"{row['In the print']}|{row['Black prints']}",
        ).groups(),
    )
    assert steps == found.shadow_steps
    assert mean == pytest.approx(found.mean, abs=DELTA + 0.05)
    assert black == pytest.approx(found.black[0], abs=DELTA + 0.05)
    if rise_l == 0:
        leeway = SHARE + 0.0005
        assert merged / 100 >= found.least_merged_share - leeway
        assert merged / 100 <= found.most_merged_share + leeway
    # The tone test of the same print: L* of its greys, and their cast.
    greys = plan_wedge(bare, SHADOW_L).relative_lab
    assert np.abs(greys - found.greys).max() <= DELTA
    if rise_l == 0:
        assert told.tone_dead_share >= found.least_merged_share - SHARE
        assert told.tone_dead_share <= found.most_merged_share + SHARE
    if delivery.colour is Delivery.NAMED_SPACE:
        clipped = consequences(bare).clipped_share
        assert clipped == pytest.approx(found.at_limit_share, abs=SHARE)
