"""
Faults that were planted one by one are all found, and sound prints raise no alarm.

Each fault changes one thing in a sound print, named in its row, and must raise the
finding beside it. Sound prints must raise neither warning nor stop. The pictures are
drawn here, the studio is the invented one.
"""

import ast
import re
from dataclasses import dataclass, field, replace
from io import BytesIO
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
import tifffile
from PIL import Image
from scipy.ndimage import gaussian_filter, zoom

from printplan import checks
from printplan.checks import Decided, Level, check_pixels, check_plan
from printplan.colour.spaces import linear_romm_profile, named_profile
from printplan.demo.computed_files import file_sha256
from printplan.media import (
    DriverColour,
    MediaForm,
    Service,
    ServicePaper,
    Stock,
    Surface,
    service_paper,
    service_printer,
)
from printplan.pixels.master import open_master
from printplan.pixels.sheet import build_sheet
from printplan.plan import resolve
from printplan.record.plan_file import open_plan
from printplan.spec import (
    AlphaRule,
    BlackPointCompensation,
    ColourSpec,
    Delivery,
    DeliverySpec,
    Extent,
    FileFormat,
    Intent,
    MountSpec,
    NamedSpace,
    Orientation,
    Placement,
    PrintSpec,
    RoomSpec,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
    WhiteSpec,
    WrapSpec,
)
from printplan.units import LengthUnit

STOP, WARN, NOTE = Level.STOP, Level.WARN, Level.NOTE
SATIN, BARYTA, COTTON = "Alder Satin 260", "Heron Baryta 315", "Fen Cotton 310"
SRGB, OPRGB, ROMM = NamedSpace.SRGB, NamedSpace.OPRGB, NamedSpace.ROMM_RGB
OFF = BlackPointCompensation.OFF


# The pictures


def tiles_l(height, width, *, low=25.0, high=85.0, edge_sigma_px=0.7, noise_l=0.3):
    """L* of a floor of tiles of many tones: straight edges, even areas, some noise."""
    rng = np.random.default_rng(5)
    down, across = -(-height // 36), -(-width // 36)
    tones = rng.uniform(low, high, (down, across))
    picture = np.kron(tones, np.ones((36, 36)))[:height, :width]
    return gaussian_filter(picture, edge_sigma_px) + rng.normal(
        0, noise_l, picture.shape
    )


def waves_l(height, width, *, low=30.0, high=80.0, noise_l=0.3):
    """L* of slow waves, as in skin or sky: no edge anywhere."""
    rows, columns = np.indices((height, width))
    wave = np.sin(rows / 60) * np.cos(columns / 85)
    noise = np.random.default_rng(6).normal(0, noise_l, wave.shape)
    return low + (high - low) * (wave + 1) / 2 + noise


def tinted(lightness, red=1.0, green=0.97, blue=0.93):
    """Linear RGB of that lightness and a tint (CIE 015:2018, 8.2.1)."""
    held = np.clip(lightness, 0, 100)
    light = np.where(held > 8, ((held + 16) / 116) ** 3, held * 27 / 24389)
    return np.clip(light[..., None] * np.array([red, green, blue]), 0, 1)


def with_patch(linear, value, top, left, height, width):
    """A picture with a rectangle of one value in it, given as shares of its edges."""
    rows, columns = linear.shape[:2]
    patched = linear.copy()
    patched[
        int(top * rows) : int((top + height) * rows),
        int(left * columns) : int((left + width) * columns),
    ] = value
    return patched


def coded(linear, gamma, bits):
    return np.rint(linear ** (1 / gamma) * (2**bits - 1)).astype(f"uint{bits}")


def saved(path, pixels, profile, **tags):
    options = {"photometric": "minisblack" if pixels.ndim == 2 else "rgb"}
    tifffile.imwrite(
        path, pixels, iccprofile=profile, metadata=None, **(options | tags)
    )


def draw(name, folder, profiles):  # noqa: C901, PLR0912, PLR0915 - one branch each
    """Draw one of the masters, sound ones first."""
    path = folder / f"{name}.tif"
    romm, srgb, oprgb = (named_profile(it).data for it in (ROMM, SRGB, OPRGB))
    tiles, waves = tiles_l(600, 900), waves_l(600, 900)
    plain = coded(tinted(tiles), 1.8, 16)
    gamma_22 = coded(tinted(tiles), 2.2, 16)
    match name:
        case "plain":
            saved(path, plain, romm)
        case "tall":
            saved(path, coded(tinted(tiles_l(900, 600)), 1.8, 16), romm)
        case "square":
            saved(path, coded(tinted(tiles_l(700, 700)), 1.8, 16), romm)
        case "strip":
            saved(path, coded(tinted(tiles_l(330, 990)), 1.8, 16), romm)
        case "smooth":
            saved(path, coded(tinted(waves), 1.8, 16), romm)
        case "night":
            dark = with_patch(tinted(tiles), 0.0, 0, 0, 0, 0)
            dark[:300] = tinted(waves_l(300, 900, low=3, high=14))
            saved(path, coded(dark, 1.8, 16), romm)
        case "snow":
            bright = tinted(tiles_l(600, 900, low=70, high=95), 1, 1, 1)
            saved(path, coded(bright, 1.8, 16), romm)
        case "grain":
            saved(path, coded(tinted(tiles_l(600, 900, noise_l=1.2)), 1.8, 16), romm)
        case "srgb":
            saved(path, gamma_22, srgb)
        case "oprgb":
            saved(path, gamma_22, oprgb)
        case "srgb 8":
            saved(path, coded(tinted(tiles), 2.2, 8), srgb)
        case "muted colours":
            bands = np.kron(np.array([[1, 0], [0, 1]]), np.ones((300, 450)))[..., None]
            two = np.where(
                bands, tinted(tiles, 1, 0.8, 0.7), tinted(tiles, 0.7, 0.9, 1)
            )
            saved(path, coded(two, 2.2, 16), srgb)
        case "grey":
            linear = tinted(tiles, 1, 1, 1)[..., 0]
            saved(path, coded(linear, 2.2, 16), profiles["grey"])
        case "float":
            saved(path, tinted(tiles).astype(np.float32), profiles["linear"])
        case "deflated":
            saved(path, plain, romm, compression="zlib")
        case "few pixels":
            saved(path, plain[:200, :300], romm)
        # Faulty ones, each "plain" or another sound one with one thing wrong.
        case "untagged":
            saved(path, plain, None)
        case "transparent":
            alpha = np.full(plain.shape[:2], 65535, np.uint16)
            alpha[:80] = 0
            both = np.dstack([plain, alpha])
            saved(path, both, romm, extrasamples=["unassalpha"])
        case "two pages":
            with tifffile.TiffWriter(path) as file:
                for _ in range(2):
                    file.write(plain, photometric="rgb", iccprofile=romm, metadata=None)
        case "turned":
            saved(path, plain, romm, extratags=[(274, "H", 1, 6, True)])
        case "out of range":
            linear = with_patch(tinted(tiles), 1.4, 0.4, 0.4, 0.2, 0.2)
            saved(path, linear.astype(np.float32), profiles["linear"])
        case "printer colour":
            saved(path, gamma_22, profiles[SATIN])
        case "romm 8":
            saved(path, coded(tinted(tiles), 1.8, 8), romm)
        case "oprgb 8":
            saved(path, coded(tinted(tiles), 2.2, 8), oprgb)
        case "jpeg":
            path = path.with_suffix(".jpg")
            image = Image.fromarray(coded(tinted(tiles), 2.2, 8))
            image.save(path, quality=92, icc_profile=srgb)
        case "sharpened":
            high = tiles + 1.6 * (tiles - gaussian_filter(tiles, 1.5))
            saved(path, coded(tinted(high), 1.8, 16), romm)
        case "sharpened a little":
            high = tiles + 0.55 * (tiles - gaussian_filter(tiles, 1.2))
            saved(path, coded(tinted(high), 1.8, 16), romm)
        case "enlarged":
            small = tiles_l(76, 113)
            large = gaussian_filter(zoom(small, 8, order=3)[:600, :900], 1.0)
            saved(path, coded(tinted(large), 1.8, 16), romm)
        case "out of focus":
            blurred = tiles_l(600, 900, edge_sigma_px=5)
            saved(path, coded(tinted(blurred), 1.8, 16), romm)
        case "holes":
            holed = with_patch(tinted(tiles), 1.0, 0.35, 0.35, 0.25, 0.25)
            saved(path, coded(holed, 1.8, 16), romm)
        case "small holes":
            holed = with_patch(tinted(tiles), 1.0, 0.35, 0.35, 0.1, 0.1)
            saved(path, coded(holed, 1.8, 16), romm)
        case "white sky":
            sky = with_patch(tinted(tiles), 1.0, 0, 0, 0.4, 1)
            saved(path, coded(sky, 1.8, 16), romm)
        case "white corner":
            corner = with_patch(tinted(tiles), 1.0, 0, 0, 0.2, 0.2)
            saved(path, coded(corner, 1.8, 16), romm)
        case "tones apart":
            eight = coded(tinted(tiles), 2.2, 8).astype(float)
            apart = np.clip(np.rint((eight - 40) * 1.7), 0, 255).astype(np.uint8)
            saved(path, apart, srgb)
        case "8 in 16":
            saved(path, coded(tinted(tiles), 2.2, 8).astype(np.uint16) * 257, srgb)
        case "blocks":
            stream = BytesIO()
            image = Image.fromarray(coded(tinted(waves), 2.2, 8))
            image.save(stream, "JPEG", quality=8)
            saved(path, np.asarray(Image.open(stream)), srgb)
        case "clipped ROMM":
            # Warm light, overexposed where it is brightest: red clips by itself.
            warm = waves_l(600, 900, low=40, high=125)
            linear = ((warm + 16) / 116)[..., None] ** 3 * np.array([1.0, 0.6, 0.3])
            saved(path, coded(np.clip(linear, 0, 1), 1.8, 16), romm)
        case "neon":
            neon = tinted(waves_l(600, 900, low=60, high=99), 1, 0.02, 1)
            saved(path, coded(neon, 1.8, 16), romm)
        case "cellar":
            low = tinted(waves_l(600, 900, low=3, high=18))
            saved(path, coded(low, 1.8, 16), romm)
        case _:
            raise ValueError(name)
    return path


# The prints


@dataclass(frozen=True, kw_only=True)
class Job:
    """One print in a few words; what is not said is as in `PLAIN`."""

    master: str = "plain"
    paper: str = BARYTA
    opened: dict = field(default_factory=dict)
    size: dict = field(default_factory=dict)
    sheet: dict = field(default_factory=dict)
    sharpen: dict = field(default_factory=dict)
    colour: dict = field(default_factory=dict)
    mount: dict = field(default_factory=dict)
    wrap: dict = field(default_factory=dict)
    white: dict = field(default_factory=dict)
    room: dict = field(default_factory=dict)
    delivery: dict = field(default_factory=dict)
    paper_has: dict = field(default_factory=dict)
    pair_has: dict = field(default_factory=dict)
    printer_has: dict = field(default_factory=dict)
    feed_has: dict = field(default_factory=dict)
    decided: dict = field(default_factory=dict)
    service: dict = field(default_factory=dict)
    unit: LengthUnit = LengthUnit.MM

    def but(self, **changes):
        """The same with one thing changed; tables are changed key by key."""
        merged = {
            name: getattr(self, name) | new if isinstance(new, dict) else new
            for name, new in changes.items()
        }
        return replace(self, **merged)


PLAIN = Job()


def a(width_mm, ppi=300.0):
    return {"rule": SizeRule.WIDTH, "width_mm": width_mm, "ppi": ppi}


def fill(width_mm, height_mm):
    return {
        "rule": SizeRule.FILL,
        "width_mm": width_mm,
        "height_mm": height_mm,
        "ppi": 300.0,
    }


class Desk:
    """The studio with its pictures: each is drawn and opened once."""

    def __init__(self, studio, folder):
        self.folder = folder
        self.book = studio.book
        self.printer = studio.book.printers[0]
        self.paths = {
            paper.name: paper.on(self.printer).profile for paper in studio.book.papers
        }
        baryta = Path(self.paths[BARYTA]).read_bytes()
        # The first of each name stands in the tag table; there it is not found again.
        for name, data in (
            ("no colorimetric", baryta.replace(b"B2A1", b"zzA1", 1)),
            ("no saturation", baryta.replace(b"B2A2", b"zzA2", 1)),
            ("matrix", linear_romm_profile().data.replace(b"mntr", b"prtr", 1)),
        ):
            path = folder / f"{name}.icc"
            path.write_bytes(data)
            self.paths[name] = str(path)
        self.profiles = {
            SATIN: Path(self.paths[SATIN]).read_bytes(),
            "grey": imagecodecs.cms_profile("gray", gamma=2.2),
            "linear": linear_romm_profile().data,
        }
        self.opened, self.last_sheet = {}, {}

    def master(self, job):
        key = (job.master, *job.opened.items())
        if key not in self.opened:
            path = draw(job.master, self.folder, self.profiles)
            self.opened[key] = open_master(path, **job.opened)
        return self.opened[key]

    def findings(self, job):
        """All that is found of a job, by plan and by pixels."""
        master = self.master(job)
        plan = self.plan(job, master)
        decided = None
        if job.decided:
            decided = Decided(
                master_sha256=job.decided.get("master", plan.facts.sha256),
                profile_sha256=job.decided.get("profile", plan.setup.profile_sha256),
            )
        others = [it for it in self.book.papers if it.name != job.paper]
        found = check_plan(plan, decided=decided, papers=others)
        if Path(plan.setup.profile).is_file():
            # Where size and crop are the same, the resampled pixels are shared.
            sheet = build_sheet(master, plan, reuse=self.last_sheet.get(master))
            self.last_sheet[master] = sheet
            found += check_pixels(sheet, decided=decided)
        return found

    def service(self, *, has_profile=True, **told):
        """An invented print service, that prints on its own paper."""
        paper = ServicePaper(
            name="Lapwing Lustre 270",
            surface="satin",
            weight_gsm=270.0,
            thickness_um=260.0,
            psf_sigma_um=28.0,
            proof_profile=self.paths[BARYTA] if has_profile else "",
        )
        return Service(name="Harbour Prints", papers=(paper,), **told)

    def plan(self, job, master):
        paper = self.book.paper(job.paper)
        pair_has = dict(job.pair_has)
        if "profile" in pair_has:
            # Somebody set the pair up with this file: its hash is taken too.
            pair_has["profile"] = self.paths.get(pair_has["profile"], "gone.icc")
            if Path(pair_has["profile"]).is_file():
                pair_has.setdefault(
                    "profile_sha256", file_sha256(Path(pair_has["profile"]))
                )
        pair = replace(paper.on(self.printer), **pair_has)
        paper = replace(paper, on_printer=(pair,), **job.paper_has)
        feeds = tuple(
            replace(it, **job.feed_has) if it.name in pair.feeds[:1] else it
            for it in self.printer.feeds
        )
        printer = replace(self.printer, feeds=feeds, **job.printer_has)
        if job.service:
            service = self.service(**job.service)
            paper = service_paper(service, service.papers[0])
            printer, pair = service_printer(service), paper.on_printer[0]
        spec = PrintSpec(
            size=SizeSpec(**(job.size or a(60.0))),
            sheet=SheetSpec(
                **({"media_size": "A4", "feed": pair.feeds[0]} | job.sheet)
            ),
            sharpen=SharpenSpec(**({"gain": 0.3, "radius_mm": 0.1} | job.sharpen)),
            colour=ColourSpec(**job.colour),
            mount=MountSpec(**job.mount),
            wrap=WrapSpec(**job.wrap),
            white=WhiteSpec(**job.white),
            room=RoomSpec(**job.room),
            delivery=DeliverySpec(**job.delivery),
            lengths_in=job.unit,
        )
        return resolve(master.facts, paper, printer, spec)


@pytest.fixture(scope="module")
def desk(studio, tmp_path_factory):
    made = Desk(studio, tmp_path_factory.mktemp("masters"))
    yield made
    for master in made.opened.values():
        master.close()


# Sixty faults and more, each one thing changed in a sound print


SMALL_SHEET = PLAIN.but(
    paper_has={"stock": (Stock(sheet="100x148 mm", sheets_left=9),)},
    sheet={"media_size": "custom", "width_mm": 100.0, "height_mm": 148.0},
    size=a(80.0),
    delivery={"extent": Extent.PICTURE},
)
ON_COTTON = PLAIN.but(paper=COTTON)
ON_SATIN = PLAIN.but(paper=SATIN)
STRETCHED = PLAIN.but(mount={"wrap_mm": 12.0, "stretcher_depth_mm": 6.0})
MATTED = PLAIN.but(mount={"mat_opening_width_mm": 54.0, "mat_opening_height_mm": 34.0})


def kept(*sizes, left=5):
    return {"stock": tuple(Stock(sheet=size, sheets_left=left) for size in sizes)}


FRAMED = PLAIN.but(
    mount={
        "mat_overlap_mm": 3.0,
        "mat_outer_width_mm": 340.0,
        "mat_outer_height_mm": 250.0,
        "frame_width_mm": 341.0,
        "frame_height_mm": 251.0,
    }
)
REVEALED = PLAIN.but(
    mount={
        "reveal_mm": 5.0,
        "reveal_below_mm": 15.0,
        "mat_outer_width_mm": 340.0,
        "mat_outer_height_mm": 250.0,
    }
)
WRAPPED = PLAIN.but(
    paper_has={"surface": Surface.CANVAS},
    wrap={"bar_depth_mm": 20.0, "turn_over_mm": 15.0, "shrinks_across_percent": 1.0},
)
BORDERLESS = PLAIN.but(
    size=fill(80.0, 58.0),
    sheet={"media_size": "A8", "bleed_mm": 3.0},
    feed_has={"borderless": ("A8",), "shortest_mm": 50.0, "narrowest_mm": 40.0},
    paper_has=kept("A8"),
)
ON_A_ROLL = PLAIN.but(
    feed_has={"takes": MediaForm.ROLLS},
    paper_has={"stock": (Stock(roll_width_mm=210.0, left_m=3.0),)},
)
NIGHT = ON_COTTON.but(master="night")
IN_SRGB = PLAIN.but(
    delivery={
        "colour": Delivery.NAMED_SPACE,
        "named_space": SRGB,
        "file_format": FileFormat.JPEG,
    }
)


ORDERED = IN_SRGB.but(
    service={"ppi": 300.0, "jpeg_quality": 80},
    sheet={"media_size": "as ordered"},
    delivery={"extent": Extent.PICTURE},
)


# A sound print; what is changed in it; what must be found.
FAULTS = {
    # The print service
    "too many pixels for the service": (
        ORDERED,
        {"service": {"longest_px": 500}},
        (STOP, "service's limits"),
    ),
    "too low a quality for the service": (
        ORDERED,
        {"delivery": {"jpeg_quality": 60}},
        (WARN, "JPEG quality"),
    ),
    "no bleed where the service wants some": (
        ORDERED,
        {"service": {"bleed_mm": 3.0}},
        (WARN, "bleed asked for"),
    ),
    "picture that is trimmed off": (
        ORDERED,
        {"delivery": {"bleed_mm": 3.0}},
        (NOTE, "bleed"),
    ),
    "no profile of the service's paper": (
        ORDERED,
        {"service": {"has_profile": False}},
        (NOTE, "proof of the space"),
    ),
    # The master
    "no profile": (
        PLAIN,
        {"master": "untagged", "opened": {"assume_profile": "ROMM RGB"}},
        (WARN, "profile assumed"),
    ),
    "transparent": (
        PLAIN,
        {"master": "transparent", "opened": {"alpha": AlphaRule.FLATTEN}},
        (NOTE, "transparency"),
    ),
    "two pages": (PLAIN, {"master": "two pages"}, (NOTE, "pages")),
    "turned by a flag": (PLAIN, {"master": "turned"}, (NOTE, "orientation flag")),
    "above 1": (PLAIN, {"master": "out of range"}, (WARN, "clipped values")),
    "converted": (PLAIN, {"master": "printer colour"}, (STOP, "converted twice")),
    "8 bits of ROMM RGB": (PLAIN, {"master": "romm 8"}, (WARN, "8-bit wide gamut")),
    "8 bits of opRGB": (PLAIN, {"master": "oprgb 8"}, (NOTE, "8-bit wide gamut")),
    "JPEG": (PLAIN, {"master": "jpeg"}, (NOTE, "compressed master")),
    "sharpened": (PLAIN, {"master": "sharpened"}, (WARN, "sharpened before")),
    "sharpened a little": (
        PLAIN,
        {"master": "sharpened a little"},
        (NOTE, "sharpened before"),
    ),
    "enlarged": (PLAIN, {"master": "enlarged"}, (WARN, "soft master")),
    "out of focus": (PLAIN, {"master": "out of focus"}, (WARN, "soft master")),
    "few pixels": (PLAIN, {"master": "few pixels"}, (WARN, "enlargement")),
    "tones pulled apart": (
        PLAIN,
        {"master": "tones apart"},
        (WARN, "posterised tones"),
    ),
    "8 bits saved as 16": (PLAIN, {"master": "8 in 16"}, (NOTE, "8-bit tones")),
    "blocks": (PLAIN, {"master": "blocks"}, (WARN, "compression blocks")),
    "white to the end": (
        PLAIN,
        {"master": "white sky", "size": a(120.0)},
        (NOTE, "ends of the scale"),
    ),
    "tagged, not converted": (
        PLAIN,
        {"master": "clipped ROMM"},
        (WARN, "tagged space"),
    ),
    "master changed": (
        PLAIN,
        {"decided": {"master": "0" * 64}},
        (WARN, "master changed"),
    ),
    # Whites and shadows
    "holes": (PLAIN, {"master": "holes"}, (WARN, "bare highlights")),
    "small holes": (PLAIN, {"master": "small holes"}, (NOTE, "bare highlights")),
    "white sky": (PLAIN, {"master": "white sky"}, (WARN, "white edge")),
    "white corner": (PLAIN, {"master": "white corner"}, (NOTE, "white edge")),
    "night without compensation": (
        NIGHT,
        {"colour": {"black_point_compensation": OFF}},
        (WARN, "closed shadows"),
    ),
    "neon on cotton": (ON_COTTON, {"master": "neon"}, (NOTE, "reach")),
    "neon, colorimetric": (ON_COTTON, {"master": "neon"}, (WARN, "lost separation")),
    "low key on cotton": (ON_COTTON, {"master": "cellar"}, (WARN, "shadow steps")),
    "shadows on cotton": (ON_COTTON, {"master": "night"}, (NOTE, "shadow steps")),
    "compensation off where the table does not move black": (
        PLAIN.but(paper="Curlew Matte 200", colour={"intent": Intent.PERCEPTUAL}),
        {"colour": {"black_point_compensation": OFF}},
        (NOTE, "compensation off"),
    ),
    "compensation off in version 4": (
        PLAIN.but(paper="Sorrel Gloss 255", colour={"intent": Intent.PERCEPTUAL}),
        {"colour": {"black_point_compensation": OFF}},
        (NOTE, "compensation fixed"),
    ),
    "neon to sRGB": (IN_SRGB, {"master": "neon"}, (WARN, "cut to the space")),
    # The pair of paper and printer
    "another paper's profile": (
        PLAIN,
        {"pair_has": {"profile": SATIN}},
        (WARN, "profile shared"),
    ),
    "another paper's name in it": (
        PLAIN,
        {"pair_has": {"profile": SATIN}},
        (NOTE, "profile's name"),
    ),
    "another name, nothing kept": (
        PLAIN,
        {"pair_has": {"profile": SATIN, "profile_sha256": ""}},
        (WARN, "profile's name"),
    ),
    "glossy profile for cotton": (
        ON_COTTON,
        {"pair_has": {"profile": SATIN}},
        (STOP, "profile's black ink"),
    ),
    "glossy black on cotton": (
        ON_COTTON,
        {"pair_has": {"profile": SATIN}},
        (WARN, "profile's black"),
    ),
    "cotton's profile for satin": (
        ON_SATIN,
        {"pair_has": {"profile": COTTON}},
        (WARN, "profile's black"),
    ),
    "other black ink": (
        PLAIN,
        {"pair_has": {"black_ink": "matte black"}},
        (STOP, "profile's black ink"),
    ),
    "driver takes CMYK": (
        PLAIN,
        {"printer_has": {"driver_colour": DriverColour.CMYK}},
        (STOP, "profile's device colour"),
    ),
    "yellower paper": (
        PLAIN,
        {"paper_has": {"white_lab": (95.0, 0.5, 6.0)}},
        (WARN, "profile's white"),
    ),
    "profile changed": (
        PLAIN,
        {"pair_has": {"profile_sha256": "ab" * 32}},
        (STOP, "profile changed"),
    ),
    "profile gone": (
        PLAIN,
        {"pair_has": {"profile": "gone"}},
        (STOP, "profile missing"),
    ),
    "no hash": (
        PLAIN,
        {"pair_has": {"profile_sha256": ""}},
        (NOTE, "profile not kept"),
    ),
    "profile since decided": (
        PLAIN,
        {"decided": {"profile": "0" * 64}},
        (WARN, "profile since decision"),
    ),
    "no media type": (PLAIN, {"pair_has": {"media_type": ""}}, (NOTE, "media type")),
    "ink that is not there": (
        PLAIN,
        {"printer_has": {"black_inks": ("matte black",)}},
        (STOP, "black ink"),
    ),
    "no perceptual table": (
        PLAIN.but(colour={"intent": Intent.PERCEPTUAL}),
        {"pair_has": {"profile": "matrix"}},
        (WARN, "no table for intent"),
    ),
    "no colorimetric table": (
        PLAIN,
        {"pair_has": {"profile": "no colorimetric"}},
        (WARN, "no table for intent"),
    ),
    # Intent and room
    "absolute": (
        PLAIN,
        {"colour": {"intent": Intent.ICC_ABSOLUTE}},
        (WARN, "absolute intent"),
    ),
    "saturation": (
        PLAIN,
        {"colour": {"intent": Intent.SATURATION}},
        (WARN, "saturation intent"),
    ),
    "compensation off": (
        PLAIN,
        {"colour": {"black_point_compensation": OFF}},
        (NOTE, "compensation off"),
    ),
    "bright display": (
        PLAIN,
        {"room": {"illuminance_lx": 150.0, "display_cd_m2": 160.0}},
        (WARN, "display and room"),
    ),
    "dim display": (
        PLAIN,
        {"room": {"illuminance_lx": 2000.0, "display_cd_m2": 120.0}},
        (NOTE, "display and room"),
    ),
    # Size and resolution
    "enlarged too far": (PLAIN, {"size": a(140.0)}, (WARN, "enlargement")),
    "enlarged for far away": (
        PLAIN.but(sharpen={"distance_mm": 2000.0}),
        {"size": a(140.0)},
        (NOTE, "enlargement"),
    ),
    "150 ppi": (PLAIN, {"size": a(60.0, 150.0)}, (WARN, "low resolution")),
    "333 ppi": (PLAIN, {"size": a(60.0, 333.0)}, (NOTE, "printer resolution")),
    "1440 ppi": (PLAIN, {"size": a(20.0, 1440.0)}, (NOTE, "printer resolution")),
    "720 ppi out of 254": (
        PLAIN,
        {"size": a(90.0, 720.0)},
        (NOTE, "wasted resolution"),
    ),
    "across its place": (PLAIN, {"size": fill(40.0, 60.0)}, (WARN, "crop")),
    "thin strip": (PLAIN, {"size": fill(70.0, 14.0)}, (WARN, "crop")),
    "square": (PLAIN, {"size": fill(40.0, 40.0)}, (NOTE, "crop")),
    "lost on its sheet": (
        PLAIN.but(sheet={"media_size": "A2"}, size=a(60.0)),
        {"size": a(38.0)},
        (WARN, "small on its sheet"),
    ),
    # Sharpening
    "not sharpened": (PLAIN, {"sharpen": {"gain": 0.0}}, (WARN, "not sharpened")),
    "halo": (PLAIN, {"sharpen": {"gain": 2.5}}, (WARN, "halo")),
    "wide halo": (PLAIN, {"sharpen": {"radius_mm": 0.8, "gain": 1.2}}, (WARN, "halo")),
    "own halo limit passed": (
        PLAIN,
        {"sharpen": {"print_halo_limit_share": 0.01}},
        (WARN, "halo"),
    ),
    "grain sharpened": (
        PLAIN.but(master="grain"),
        {"sharpen": {"gain": 2.0}},
        (WARN, "noise"),
    ),
    "too small to measure": (PLAIN, {"size": a(10.0)}, (NOTE, "sharpening unjudged")),
    # Paper and feed path
    "path for other papers": (
        PLAIN,
        {"pair_has": {"feeds": ("front slot",)}, "sheet": {"feed": "sheet feeder"}},
        (STOP, "feed path"),
    ),
    "too thick": (
        PLAIN,
        {"paper_has": {"thickness_um": 351.0}},
        (STOP, "paper thickness"),
    ),
    "too thin": (
        PLAIN,
        {"paper_has": {"thickness_um": 79.0}},
        (STOP, "paper thickness"),
    ),
    "path too narrow": (
        PLAIN,
        {"feed_has": {"widest_mm": 200.0}},
        (STOP, "sheet in feed path"),
    ),
    "path too wide": (
        PLAIN,
        {"feed_has": {"narrowest_mm": 211.0}},
        (STOP, "sheet in feed path"),
    ),
    "path too short": (
        PLAIN,
        {"feed_has": {"longest_mm": 290.0}},
        (STOP, "sheet in feed path"),
    ),
    "sheet too short": (
        PLAIN,
        {"feed_has": {"shortest_mm": 300.0}},
        (STOP, "sheet in feed path"),
    ),
    "longer than it prints": (
        PLAIN,
        {"printer_has": {"longest_print_mm": 280.0}},
        (STOP, "longest print"),
    ),
    "size not kept": (PLAIN, {"paper_has": kept("A3", "A2")}, (WARN, "not in stock")),
    "sheets for a roll": (
        PLAIN,
        {"feed_has": {"takes": MediaForm.ROLLS}},
        (WARN, "not in stock"),
    ),
    "roll of other width": (
        ON_A_ROLL,
        {"paper_has": {"stock": (Stock(roll_width_mm=610.0),)}},
        (WARN, "not in stock"),
    ),
    "none left": (PLAIN, {"paper_has": kept("A4", left=0)}, (WARN, "paper left")),
    "too few for the copies": (
        PLAIN,
        {"delivery": {"copies": 30}},
        (WARN, "paper left"),
    ),
    "roll too short": (ON_A_ROLL, {"delivery": {"copies": 11}}, (WARN, "paper left")),
    # Place and mount
    "sheet lies the other way": (
        PLAIN,
        {"sheet": {"orientation": Orientation.PORTRAIT}},
        (NOTE, "orientation"),
    ),
    "border into the margins": (
        SMALL_SHEET,
        {"sheet": {"border_mm": 22.0}},
        (WARN, "driver scaling"),
    ),
    "place not in the file": (
        SMALL_SHEET,
        {"sheet": {"placement": Placement.OPTICAL_CENTRE}},
        (WARN, "place lost"),
    ),
    "mat too large": (
        MATTED,
        {"mount": {"mat_opening_width_mm": 64.0}},
        (WARN, "mat opening"),
    ),
    "mat larger than the sheet": (
        MATTED,
        {"mount": {"mat_opening_width_mm": 300.0}},
        (STOP, "mat beyond sheet"),
    ),
    "thin border": (PLAIN, {"sheet": {"border_mm": 1.5}}, (WARN, "thin border")),
    "wrap too shallow": (STRETCHED, {"mount": {"wrap_mm": 9.0}}, (WARN, "wrap")),
    "bar too deep": (
        STRETCHED,
        {"mount": {"stretcher_depth_mm": 18.0}},
        (WARN, "wrap"),
    ),
    "mat cut away": (
        FRAMED,
        {"mount": {"mat_outer_width_mm": 70.0, "mat_outer_height_mm": 50.0}},
        (STOP, "mat cut"),
    ),
    "all of it covered": (
        FRAMED,
        {"mount": {"mat_overlap_mm": 30.0}},
        (STOP, "no opening"),
    ),
    "too much white shown": (
        REVEALED,
        {"mount": {"reveal_mm": 84.0, "reveal_below_mm": None}},
        (WARN, "paper under mat"),
    ),
    "no room to sign": (
        REVEALED,
        {"mount": {"reveal_below_mm": 8.0}},
        (WARN, "signature room"),
    ),
    "mat smaller than the sheet": (
        FRAMED,
        {"mount": {"mat_outer_width_mm": 290.0, "mat_outer_height_mm": 200.0}},
        (WARN, "sheet beyond mat"),
    ),
    "frame too small": (
        FRAMED,
        {"mount": {"frame_width_mm": 330.0, "frame_height_mm": 240.0}},
        (STOP, "mat beyond frame"),
    ),
    "frame too large": (
        FRAMED,
        {"mount": {"frame_width_mm": 350.0, "frame_height_mm": 260.0}},
        (WARN, "loose in frame"),
    ),
    "frame hides too much": (
        FRAMED,
        {"mount": {"frame_rebate_mm": 150.0}},
        (STOP, "frame over opening"),
    ),
    "paper round a bar": (
        WRAPPED,
        {"paper_has": {"surface": Surface.BARYTA}},
        (WARN, "wrap on paper"),
    ),
    "nothing to staple": (
        WRAPPED,
        {"wrap": {"turn_over_mm": 1.0}},
        (WARN, "turn-over"),
    ),
    "shrinking not said": (
        WRAPPED,
        {"wrap": {"shrinks_across_percent": 0.0}},
        (NOTE, "canvas shrinks"),
    ),
    "borderless": (BORDERLESS, {}, (NOTE, "lost at the edges")),
    "no bleed in the picture": (
        BORDERLESS,
        {"size": fill(74.0, 52.0)},
        (WARN, "white strip"),
    ),
    "marks on a borderless print": (
        BORDERLESS,
        {"white": {"marks": "corners"}},
        (WARN, "marks beyond sheet"),
    ),
    "marks without folds": (
        STRETCHED,
        {"white": {"marks": "corners"}},
        (NOTE, "fold without marks"),
    ),
    "last sheets": (
        PLAIN,
        {"paper_has": {"stock": (Stock(sheet="A4", sheets_left=5, reorder_at=5),)}},
        (WARN, "paper runs low"),
    ),
    "no front left": (STRETCHED, {"mount": {"wrap_mm": 21.0}}, (STOP, "wrap")),
    # The file
    "8-bit file": (
        PLAIN,
        {"delivery": {"file_format": FileFormat.TIFF_8}},
        (NOTE, "8 bits"),
    ),
    "depth not taken": (
        PLAIN,
        {"printer_has": {"bit_depths": (8,)}},
        (WARN, "bit depth"),
    ),
    "more than 4 GB": (
        PLAIN.but(
            sheet={"media_size": "A2"},
            printer_has={"input_ppi": (300.0, 1440.0)},
            size=a(60.0),
        ),
        {"size": a(60.0, 1440.0)},
        (WARN, "file size"),
    ),
}

# Sixty sound prints, none like another.
SOUND = {
    "plain": PLAIN,
    "on cotton": ON_COTTON,
    "on satin": ON_SATIN,
    "tall": PLAIN.but(master="tall", size=a(45.0)),
    "square": PLAIN.but(master="square", size=a(50.0)),
    "strip": PLAIN.but(master="strip", size=a(80.0)),
    "smooth": PLAIN.but(master="smooth"),
    "smooth, not sharpened": PLAIN.but(master="smooth", sharpen={"gain": 0.0}),
    "night on cotton": NIGHT,
    "night on satin": ON_SATIN.but(master="night"),
    "night, perceptual": NIGHT.but(colour={"intent": Intent.PERCEPTUAL}),
    "snow": PLAIN.but(master="snow"),
    "snow on cotton": ON_COTTON.but(master="snow", size=a(70.0)),
    "grain, sharpened gently": PLAIN.but(master="grain", sharpen={"gain": 0.15}),
    "grain under a floor": PLAIN.but(
        master="grain", sharpen={"gain": 0.3, "grain_floor_l": 3.0}
    ),
    "sRGB, 16 bits": PLAIN.but(master="srgb"),
    "sRGB, 8 bits": PLAIN.but(master="srgb 8"),
    "opRGB": ON_SATIN.but(master="oprgb"),
    "muted colours on cotton": ON_COTTON.but(
        master="muted colours", colour={"intent": Intent.PERCEPTUAL}
    ),
    "muted colours on satin": ON_SATIN.but(master="muted colours"),
    "grey": PLAIN.but(master="grey"),
    "grey on cotton": ON_COTTON.but(master="grey", size=a(50.0)),
    "floating point": PLAIN.but(master="float"),
    "deflated": PLAIN.but(master="deflated", size=a(66.0)),
    "few pixels, small print": PLAIN.but(master="few pixels", size=a(30.0)),
    "360 ppi": PLAIN.but(size=a(55.0, 360.0)),
    "600 ppi": PLAIN.but(size=a(35.0, 600.0)),
    "720 ppi": PLAIN.but(size=a(30.0, 720.0)),
    "by height": PLAIN.but(
        size={"rule": SizeRule.HEIGHT, "height_mm": 45.0, "ppi": 300.0}
    ),
    "by longest edge": PLAIN.but(
        master="tall",
        size={"rule": SizeRule.LONGEST_EDGE, "longest_mm": 70.0, "ppi": 300},
    ),
    "fitted": PLAIN.but(
        size={"rule": SizeRule.FIT, "width_mm": 60.0, "height_mm": 60.0, "ppi": 300.0}
    ),
    "filled, a little cut": PLAIN.but(size=fill(60.0, 42.0)),
    "filled square": PLAIN.but(size=fill(45.0, 45.0)),
    "strip out of the middle": PLAIN.but(size=fill(66.0, 22.0)),
    "perceptual": PLAIN.but(colour={"intent": Intent.PERCEPTUAL}),
    "perceptual on satin": ON_SATIN.but(colour={"intent": Intent.PERCEPTUAL}),
    "without compensation, no shadows": PLAIN.but(
        master="snow", colour={"black_point_compensation": OFF}
    ),
    "lightened for its room": PLAIN.but(
        colour={"lighten_l": 4.0},
        room={"illuminance_lx": 150.0, "display_cd_m2": 160.0},
    ),
    "room that matches": PLAIN.but(
        room={"illuminance_lx": 500.0, "display_cd_m2": 140.0}
    ),
    "light known, display not": PLAIN.but(room={"illuminance_lx": 50.0}),
    "front slot": PLAIN.but(sheet={"feed": "front slot"}),
    "A3": PLAIN.but(sheet={"media_size": "A3"}, size=a(75.0)),
    "A2 on satin": ON_SATIN.but(sheet={"media_size": "A2"}, size=a(100.0)),
    "13x19 in": ON_SATIN.but(sheet={"media_size": "13x19 in"}, size=a(90.0)),
    "17x22 in on cotton": ON_COTTON.but(sheet={"media_size": "17x22 in"}, size=a(80.0)),
    "custom sheet": SMALL_SHEET,
    "roll": ON_A_ROLL,
    "stock that nobody counts": PLAIN.but(paper_has={"stock": (Stock(sheet="A4"),)}),
    "stock not written down": PLAIN.but(paper_has={"stock": ()}),
    "all that is left": PLAIN.but(delivery={"copies": 22}),
    "white and thickness at their ends": PLAIN.but(
        paper_has={"thickness_um": 350.0, "white_lab": None}
    ),
    "border": PLAIN.but(sheet={"border_mm": 10.0}),
    "optical centre": PLAIN.but(sheet={"placement": Placement.OPTICAL_CENTRE}),
    "offset": PLAIN.but(
        sheet={
            "placement": Placement.OFFSET,
            "offset_right_mm": 30.0,
            "offset_down_mm": -20.0,
        }
    ),
    "white sky under a mat": MATTED.but(master="white sky"),
    "white sky round a bar": STRETCHED.but(master="white sky"),
    "mat": MATTED,
    "stretched": STRETCHED,
    "working colour": PLAIN.but(delivery={"colour": Delivery.WORKING_COLOUR}),
    "sRGB for a print service": IN_SRGB,
    "opRGB, 16 bits, for a service": PLAIN.but(
        delivery={"colour": Delivery.NAMED_SPACE, "named_space": OPRGB}
    ),
    "page": PLAIN.but(delivery={"file_format": FileFormat.PDF}),
    "8-bit file for an 8-bit printer": PLAIN.but(
        delivery={"file_format": FileFormat.TIFF_8},
        printer_has={"bit_depths": (8,)},
    ),
    "seen from far": PLAIN.but(
        size=a(120.0, 300.0), sharpen={"distance_mm": 1500.0, "gain": 0.2}
    ),
    "as decided": PLAIN.but(decided={"note": "same"}),
    "measured profile, no saturation table": PLAIN.but(
        pair_has={"profile": "no saturation"}
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", FAULTS)
def test_seeded_fault_is_found(desk, name):
    sound, change, wanted = FAULTS[name]
    found = desk.findings(sound.but(**change))
    assert wanted in [(it.level, it.topic) for it in found], "\n".join(map(str, found))
    for it in found:
        assert it.problem.endswith("."), it
        assert it.remedy.endswith("."), it
        assert it.source, it


@pytest.mark.slow
@pytest.mark.parametrize("name", SOUND)
def test_sound_print_raises_no_alarm(desk, name):
    alarms = [it for it in desk.findings(SOUND[name]) if it.level is not NOTE]
    assert alarms == []


@pytest.mark.slow
@pytest.mark.parametrize(
    "sound", list({id(row[0]): row[0] for row in FAULTS.values()}.values())
)
def test_what_a_fault_is_planted_in_is_sound(desk, sound):
    assert [it for it in desk.findings(sound) if it.level is not NOTE] == []


# In millimetres whatever the person's unit: sharpening's radius is set in them, and in
# inches would be thousandths.
ALWAYS_MM = re.compile(r"radius of [\d.]+ mm")


@pytest.mark.slow
def test_a_person_who_works_in_inches_reads_no_millimetres(desk):
    """All that plans tell, and what pixels tell where it names a length."""
    told = []
    for job, changes, (_, about) in FAULTS.values():
        wish = replace(job.but(**changes), unit=LengthUnit.INCHES)
        if about in {"soft master", "not sharpened"}:
            told += desk.findings(wish)
        else:
            told += check_plan(desk.plan(wish, desk.master(wish)))
    assert len({it.topic for it in told}) > 30
    for words in (part for it in told for part in (it.problem, it.remedy)):
        assert not re.search(r"\bmm\b", ALWAYS_MM.sub("", words)), words
    assert sum(" in " in it.remedy for it in told) > 5


def test_there_are_sixty_of_each_and_no_two_alike():
    assert len(FAULTS) >= 60
    assert len(SOUND) >= 60
    assert {level for _, _, (level, _) in FAULTS.values()} == set(Level)
    for number, job in enumerate(SOUND.values()):
        assert job not in list(SOUND.values())[:number]


def test_every_finding_has_a_seeded_fault():
    """Every subject that the checks can name, by their syntax trees."""
    named = set()
    for path in Path(checks.__file__).parent.glob("*.py"):
        # Of a profile without a plan; its faults are planted in test_profile_quality.
        if path.name == "output_profile.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.keyword) and node.arg == "topic":
                # One subject, or one of two.
                named |= {
                    part.value
                    for part in ast.walk(node.value)
                    if isinstance(part, ast.Constant)
                }
    assert named == {about for _, _, (_, about) in FAULTS.values()}


@pytest.mark.slow
@pytest.mark.parametrize("number", range(3))
def test_demo_plan_raises_no_alarm(studio, number):
    sheet = open_plan(studio.plan_paths[number])
    with sheet.master:
        found = check_plan(sheet.plan, papers=studio.book.papers) + check_pixels(sheet)
    assert [it for it in found if it.level is not NOTE] == []
