"""
Thirty sound prints of real photographs raise no alarm.

Nine photographs of different kinds, in four codings, rightly sized for their pixels,
sharpened by the automatic choice, on a paper and with an intent that suit them. None
may raise a warning or a stop; notes are no alarm.
"""

from dataclasses import dataclass, field, replace

import photographs
import pytest
from photographs import OPRGB, ROMM, SRGB

from printplan.checks import Level, check_pixels, check_plan
from printplan.checks.size import viewing_distance_mm
from printplan.pixels.master import open_master
from printplan.pixels.picture_content import picture_content
from printplan.pixels.sharpening import chosen_sharpening
from printplan.pixels.sheet import build_sheet, varied
from printplan.plan import resolve
from printplan.spec import (
    ColourSpec,
    Delivery,
    DeliverySpec,
    FileFormat,
    Intent,
    MountSpec,
    PrintSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)

SATIN, BARYTA, COTTON = "Alder Satin 260", "Heron Baryta 315", "Fen Cotton 310"
COLORIMETRIC = ColourSpec(intent=Intent.MEDIA_RELATIVE)
PERCEPTUAL = ColourSpec(intent=Intent.PERCEPTUAL)
SERVICE = DeliverySpec(
    colour=Delivery.NAMED_SPACE, named_space=SRGB, file_format=FileFormat.JPEG
)
# Lamps reach the picture's edge: a mat covers it, or it would not be seen.
MATTED = MountSpec(mat_opening_width_mm=140.0, mat_opening_height_mm=102.0)
WORKING = DeliverySpec(colour=Delivery.WORKING_COLOUR)


@dataclass(frozen=True, kw_only=True)
class Sound:
    """One print in a few words."""

    photograph: str
    width_mm: float
    coded: str = "sRGB JPEG"
    paper: str = BARYTA
    ppi: float = 300.0
    size: dict = field(default_factory=dict)
    sheet: str = "A4"
    colour: ColourSpec = PERCEPTUAL
    delivery: DeliverySpec = field(default_factory=DeliverySpec)
    mount: MountSpec = field(default_factory=MountSpec)


def fill(width_mm, height_mm):
    return {"rule": SizeRule.FILL, "width_mm": width_mm, "height_mm": height_mm}


# 25.4 mm of print have 200 pixels of the master or more: common practice, no source.
SOUND = {
    "seed heads, A2 on baryta": Sound(
        photograph="seed-heads", width_mm=520, sheet="A2"
    ),
    "seed heads, A3 on satin": Sound(
        photograph="seed-heads", width_mm=380, sheet="A3", paper=SATIN
    ),
    "seed heads, small, 16 bits": Sound(
        photograph="seed-heads", width_mm=200, coded="ROMM TIFF"
    ),
    "seed heads, colorimetric": Sound(
        photograph="seed-heads", width_mm=260, colour=COLORIMETRIC
    ),
    "stream, A3 on cotton": Sound(
        photograph="stream", width_mm=360, sheet="A3", paper=COTTON
    ),
    "stream, A4 at 360 ppi": Sound(photograph="stream", width_mm=250, ppi=360.0),
    "stream in opRGB": Sound(
        photograph="stream", width_mm=240, coded="opRGB TIFF", paper=SATIN
    ),
    "stream in ROMM RGB, colorimetric": Sound(
        photograph="stream", width_mm=265, coded="ROMM TIFF", colour=COLORIMETRIC
    ),
    "stream in grey": Sound(photograph="stream", width_mm=250, coded="grey TIFF"),
    "stream for a print service": Sound(
        photograph="stream", width_mm=265, delivery=SERVICE, colour=COLORIMETRIC
    ),
    "red bowl on satin": Sound(photograph="red-bowl", width_mm=260, paper=SATIN),
    "red bowl on baryta": Sound(photograph="red-bowl", width_mm=200),
    "red bowl in grey on cotton": Sound(
        photograph="red-bowl", width_mm=220, coded="grey TIFF", paper=COTTON
    ),
    "meadow on cotton": Sound(photograph="meadow", width_mm=140, paper=COTTON),
    "meadow on satin, colorimetric": Sound(
        photograph="meadow", width_mm=120, paper=SATIN, colour=COLORIMETRIC
    ),
    "meadow in ROMM RGB": Sound(photograph="meadow", width_mm=150, coded="ROMM TIFF"),
    "stream, cut square": Sound(photograph="stream", width_mm=180, size=fill(180, 180)),
    "dogs upright on baryta": Sound(photograph="two-dogs", width_mm=110),
    "dogs on cotton": Sound(photograph="two-dogs", width_mm=120, paper=COTTON),
    "dogs in opRGB, colorimetric": Sound(
        photograph="two-dogs", width_mm=100, coded="opRGB TIFF", colour=COLORIMETRIC
    ),
    "dogs in working colour": Sound(
        photograph="two-dogs", width_mm=110, delivery=WORKING
    ),
    "room by lamp light": Sound(photograph="listening-room", width_mm=110),
    "room on satin at 360 ppi": Sound(
        photograph="listening-room", width_mm=100, paper=SATIN, ppi=360.0
    ),
    "room in ROMM RGB": Sound(
        photograph="listening-room", width_mm=120, coded="ROMM TIFF", paper=SATIN
    ),
    "clock, high key": Sound(photograph="clock", width_mm=160),
    "clock in opRGB on satin": Sound(
        photograph="clock", width_mm=140, coded="opRGB TIFF", paper=SATIN
    ),
    "clock on cotton, colorimetric": Sound(
        photograph="clock", width_mm=150, paper=COTTON, colour=COLORIMETRIC
    ),
    "bird under lamps": Sound(photograph="bird-and-lamps", width_mm=150, mount=MATTED),
    "bird in grey on cotton": Sound(
        photograph="bird-and-lamps",
        width_mm=150,
        coded="grey TIFF",
        paper=COTTON,
        mount=MATTED,
    ),
    "nuthatch before soft ground": Sound(photograph="nuthatch", width_mm=170),
    "nuthatch in ROMM RGB on satin": Sound(
        photograph="nuthatch", width_mm=150, coded="ROMM TIFF", paper=SATIN
    ),
    "nuthatch, cut to 4:3": Sound(
        photograph="nuthatch", width_mm=100, size=fill(100, 75)
    ),
}


@pytest.fixture(scope="module")
def masters(tmp_path_factory):
    """Each photograph in each coding, made and opened once."""
    folder, opened = tmp_path_factory.mktemp("masters"), {}

    def make(sound):
        key = (sound.photograph, sound.coded)
        if key not in opened:
            path = folder / f"{sound.photograph} {sound.coded}"
            if sound.coded == "sRGB JPEG":
                photographs.tagged_jpeg(path, sound.photograph)
            else:
                codes = photographs.pixels(sound.photograph)
                match sound.coded:
                    case "ROMM TIFF":
                        numbers = photographs.converted(codes, ROMM)
                        photographs.tagged_tiff(path, numbers, ROMM)
                    case "opRGB TIFF":
                        numbers = photographs.converted(codes, OPRGB)
                        photographs.tagged_tiff(path, numbers, OPRGB)
                    case "grey TIFF":
                        photographs.tagged_tiff(path, photographs.grey(codes))
            opened[key] = open_master(path)
        return opened[key]

    yield make
    for master in opened.values():
        master.close()


def sharpened_sheet(sound, master, studio):
    """The print with the sharpening that is chosen for it."""
    printer, paper = studio.book.printers[0], studio.book.paper(sound.paper)
    size = {"rule": SizeRule.WIDTH, "width_mm": sound.width_mm} | sound.size
    spec = PrintSpec(
        size=SizeSpec(**size, ppi=sound.ppi),
        colour=sound.colour,
        sheet=SheetSpec(media_size=sound.sheet, feed=paper.on(printer).feeds[0]),
        delivery=sound.delivery,
        mount=sound.mount,
    )
    sheet = build_sheet(master, resolve(master.facts, paper, printer, spec))
    advice = chosen_sharpening(
        sheet.plan,
        picture_content(sheet),
        distance_mm=viewing_distance_mm(sheet.plan),
    )
    return varied(sheet, replace(spec, sharpen=advice.spec))


@pytest.mark.slow
@pytest.mark.parametrize("name", SOUND)
def test_sound_print_of_a_photograph_raises_no_alarm(name, masters, studio):
    sound = SOUND[name]
    sheet = sharpened_sheet(sound, masters(sound), studio)
    others = [it for it in studio.book.papers if it.name != sound.paper]
    found = check_plan(sheet.plan, papers=others) + check_pixels(sheet)
    assert [str(it) for it in found if it.level is not Level.NOTE] == []


def test_sound_prints_are_thirty_of_all_nine_photographs():
    assert len(SOUND) >= 30
    assert {it.photograph for it in SOUND.values()} == set(photographs.PHOTOGRAPHS)
