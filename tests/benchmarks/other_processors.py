"""
Are prints the same, bit for bit, on processors that this machine has not?

Small prints go through all stages on this machine, on x86-64 without AVX and with AVX2,
and on ARM of 64 bits, there with loops compiled for plain cores, for vectors of any
length and for Apple's: emulated by QEMU, with Debian's Python and the wheels that pip
finds for ARM. numpy, LittleCMS and C's own library take code for that processor too.
Printed is a sum for each machine, of all files, overviews and proofs, and which prints
are others than here.

Wants x86-64, Debian's apt and its package qemu-user-static. Needs no rights and
installs nothing: a gigabyte comes into a folder, and stays there for the next time.
Takes some twenty minutes of a processor. Most is compiling, which is kept too.

    python tests/benchmarks/other_processors.py [--only ARM]
"""

# ruff: noqa: PLC0415 - each process loads only what it runs
import argparse
import getpass
import hashlib
import os
import platform
import shlex
import shutil
import subprocess
import sys
import time
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path

HERE = Path(__file__).resolve()
PACKAGE = HERE.parents[2]
PRESS = PACKAGE / "tests" / "data" / "FOGRA39L_coated.icc"

MACHINES = {
    "this machine": ("", ""),
    "x86-64 without AVX": ("qemu-x86_64-static -cpu Nehalem", ""),
    "x86-64 with AVX2": ("qemu-x86_64-static -cpu max", ""),
    "ARM": ("qemu-aarch64-static", ""),
    "ARM, Neoverse V1": ("qemu-aarch64-static", "neoverse-v1"),
    "ARM, Apple M1": ("qemu-aarch64-static", "apple-m1"),
}
"""What emulates each, and for which processor loops are to be compiled."""

DEBIAN = ("python3", "libstdc++6", "libgomp1")
LIBRARIES = (
    *("fpdf2", "defusedxml", "fonttools", "imagecodecs", "lazy-loader", "llvmlite"),
    *("matplotlib", "numba", "numpy", "packaging", "Pillow", "platformdirs", "scipy"),
    *("simplejpeg", "tifffile", "tomlkit", "tqdm"),
)
"""What a print loads; of matplotlib only the fonts."""

WHEELS = (17, 24, 26, 27, 28)
"""manylinux_2_…: releases of C's library that ARM's wheels were made for."""


def fetch_debian(root):
    """Python for ARM and all that it needs, unpacked into a folder."""
    work = root.with_name("apt")
    shutil.rmtree(work, ignore_errors=True)
    for name in ("lists/partial", "cache/archives/partial"):
        (work / name).mkdir(parents=True)
    codename = platform.freedesktop_os_release()["VERSION_CODENAME"]
    key = "/usr/share/keyrings/debian-archive-keyring.gpg"
    (work / "sources.list").write_text(
        f"deb [signed-by={key}] http://deb.debian.org/debian {codename} main\n"
    )
    (work / "status").touch()
    options = {
        "Dir::Etc::SourceList": work / "sources.list",
        "Dir::Etc::SourceParts": "/dev/null",
        "Dir::State::Lists": work / "lists",
        "Dir::State::status": work / "status",
        "Dir::Cache": work / "cache",
        "APT::Architecture": "arm64",
        "APT::Architectures": "arm64",
        "APT::Sandbox::User": getpass.getuser(),
        "APT::Install-Recommends": "false",
        "Debug::NoLocking": "true",
    }
    apt = ["apt-get", "-qq", *(f"-o{name}={of}" for name, of in options.items())]
    subprocess.run([*apt, "update"], check=True)
    subprocess.run([*apt, "install", "--download-only", *DEBIAN], check=True)
    part = root.with_name("root.part")
    shutil.rmtree(part, ignore_errors=True)
    for package in (work / "cache" / "archives").glob("*.deb"):
        subprocess.run(["dpkg", "-x", package, part], check=True)
    part.rename(root)
    shutil.rmtree(work)


def fetch_libraries(site, python_version):
    """Wheels for ARM of the very versions that are here."""
    part = site.with_name(f"{site.name}.part")
    shutil.rmtree(part, ignore_errors=True)
    tags = [f"manylinux_2_{release}_aarch64" for release in WHEELS]
    platforms = [f"--platform={it}" for it in (*tags, "manylinux2014_aarch64")]
    pip = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps"]
    pip += ["--only-binary=:all:", f"--python-version={python_version}", *platforms]
    pins = [f"{name}=={version(name)}" for name in LIBRARIES]
    subprocess.run([*pip, f"--target={part}", *pins], check=True)
    part.rename(site)


def python_of(emulator, folder):
    """The command that starts Python on a machine, and where its libraries are."""
    if "aarch64" not in emulator:
        return [*emulator.split(), sys.executable], []
    root = folder / f"{platform.freedesktop_os_release()['VERSION_CODENAME']}-arm64"
    if not root.exists():
        fetch_debian(root)
    (python,) = {it.resolve() for it in root.glob("usr/bin/python3")}
    pins = " ".join(f"{name}=={version(name)}" for name in LIBRARIES)
    digest = hashlib.sha256(f"{python.name} {pins}".encode()).hexdigest()[:12]
    site = folder / f"wheels-{digest}"
    if not site.exists():
        fetch_libraries(site, python.name.removeprefix("python"))
    return [*emulator.split(), "-L", str(root), str(python)], [site]


def make_masters(folder):
    """The demo's papers, and masters of edges, texture and a photograph."""
    import numpy as np
    import tifffile

    from printplan.colour.spaces import named_profile
    from printplan.demo.studio import make_studio
    from printplan.spec import NamedSpace

    make_studio(folder)
    rng = np.random.default_rng(3)
    rows, columns = np.indices((210, 320))
    red = 0.5 + 0.5 * np.sin(columns / 5)
    blue = ((rows // 30 + columns // 30) % 2) * 0.8 + 0.1
    waves = np.stack([red, (rows / 210) ** 2, blue], axis=-1)
    noisy = np.clip(waves + rng.normal(0, 0.03, waves.shape), 0, 1)
    for name, pixels in {
        "codes": np.rint(noisy * 65535).astype(np.uint16),
        "numbers": noisy.astype(np.float32),
    }.items():
        tifffile.imwrite(
            folder / f"{name}.tif",
            pixels,
            photometric="rgb",
            iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
            metadata=None,
        )


def prints():
    """Wishes by a name: master, paper and parts of a `PrintSpec`."""
    from printplan.spec import (
        ColourSpec,
        DeliverySpec,
        SharpenSpec,
        SizeRule,
        SizeSpec,
        WhiteSpec,
        WrapSpec,
    )

    cotton, gloss, press = "Fen Cotton 310", "Sorrel Gloss 255", ""
    sharpen = SharpenSpec(
        gain=1.2, radius_mm=0.2, halo_limit_share=0.1, grain_floor_l=0.4
    )

    def wish(width_mm, ppi, **parts):
        size = SizeSpec(rule=SizeRule.WIDTH, width_mm=width_mm, ppi=ppi)
        return {"size": size, "sharpen": sharpen, "delivery": picture} | parts

    def named(space, file_format="tiff-16"):
        return replace(
            picture, colour="named-space", named_space=space, file_format=file_format
        )

    picture = DeliverySpec(extent="picture")
    lighter = ColourSpec(lighten_l=4.0)
    perceptual = ColourSpec(intent="perceptual", black_point_compensation="off")
    absolute = ColourSpec(intent="icc-absolute")
    bytes_ = replace(picture, file_format="tiff-8", dither_seed=3)
    wrap = WrapSpec(bar_depth_mm=12.0, left="stretched", top="colour", colour="#c08040")
    white = WhiteSpec(
        key_line_mm=0.5, marks="corners", caption=("title",), caption_title="Grüße 3/7"
    )
    return {
        "paper": ("codes", cotton, wish(60, 150, colour=lighter)),
        "paper, perceptual": ("codes", cotton, wish(60, 150, colour=perceptual)),
        "paper, absolute": ("codes", gloss, wish(180, 200, colour=absolute)),
        "paper, version 4": ("numbers", gloss, wish(60, 150, colour=perceptual)),
        "paper, 8 bits": ("codes", cotton, wish(60, 150, delivery=bytes_)),
        "press": ("codes", press, wish(60, 150, colour=lighter)),
        "press, 8 bits": ("numbers", press, wish(60, 150, delivery=bytes_)),
        "sRGB": ("codes", cotton, wish(60, 150, delivery=named("sRGB"))),
        "opRGB, JPEG": (
            "codes",
            cotton,
            wish(60, 150, delivery=named("opRGB", "jpeg")),
        ),
        "photograph": ("masters/stream", cotton, wish(150, 200)),
        "photograph, small": ("masters/red-bowl", press, wish(25, 72)),
        "caption": (
            "codes",
            cotton,
            wish(60, 150, white=white, delivery=DeliverySpec()),
        ),
        "canvas": ("codes", cotton, wish(60, 150, wrap=wrap)),
    }


def tell_sums(folder):
    """Make all prints; say name and sum of each, and how long the machine took."""
    from printplan.loops.machine_code import compile_loops
    from printplan.media.printer import DriverColour
    from printplan.pixels.master import open_master
    from printplan.pixels.render import ending_of, render
    from printplan.pixels.sheet import Appearance, build_sheet
    from printplan.plan import resolve
    from printplan.record.paper_book import read_paper_book
    from printplan.spec import PrintSpec, SheetSpec

    compile_loops()
    book = read_paper_book(folder / "paper-book.toml")
    for name, (file, paper_name, parts) in prints().items():
        paper, printer = book.paper(paper_name or "Fen Cotton 310"), book.printers[0]
        if not paper_name:
            setup = replace(paper.on(printer), profile=str(PRESS), profile_sha256="")
            paper = replace(paper, on_printer=(setup,))
            printer = replace(printer, driver_colour=DriverColour.CMYK)
        sheet = SheetSpec(media_size="A4", feed=paper.on(printer).feeds[0])
        with open_master(folder / f"{file}.tif") as master:
            plan = resolve(
                master.facts, paper, printer, PrintSpec(sheet=sheet, **parts)
            )
            page = build_sheet(master, plan)
            target = (folder / "print").with_suffix(
                ending_of(plan.delivery.file_format)
            )
            target.unlink(missing_ok=True)
            digest = hashlib.sha256(render(page, target).sha256.encode())
            view = page.overview(400)
            digest.update(view.pixels.tobytes() + view.linear.tobytes())
            for look in Appearance:
                digest.update(page.proof(view.pixels, look).tobytes())
        print(name, digest.hexdigest(), sep="\t", flush=True)


def sums_on(emulator, compiled_for, folder):
    """Sums by the names of prints, as `tell_sums` says them on a machine."""
    command, libraries = python_of(emulator, folder)
    # What a process starts as a process of its own has to be emulated as well.
    start = folder / "start-python"
    start.write_text(f'#!/bin/sh\nexec {shlex.join(command)} "$@"\n')
    start.chmod(0o755)
    settings = {
        "PYTHONPATH": os.pathsep.join(map(str, [PACKAGE, *libraries])),
        "PYTHONDONTWRITEBYTECODE": "1",
        "XDG_CACHE_HOME": str(folder / "compiled"),
        "PRINTPLAN_CACHE": str(folder / "measured"),
        "PRINTPLAN_CONFIG": str(folder / "settings"),
    }
    if compiled_for:
        settings |= {"NUMBA_CPU_NAME": compiled_for, "NUMBA_CPU_FEATURES": ""}
    shutil.rmtree(folder / "measured", ignore_errors=True)
    told = subprocess.run(
        [start, HERE, "--folder", folder, "--sums", start],
        env=os.environ | settings,
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    ).stdout
    return dict(line.split("\t") for line in told.splitlines())


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    home = Path(os.environ.get("XDG_CACHE_HOME", Path.home() / ".cache"))
    parser.add_argument(
        "--folder", type=Path, default=home / "printplan-tests" / "other-processors"
    )
    parser.add_argument("--only", default="", help="machines with this in their name")
    parser.add_argument("--sums", help=argparse.SUPPRESS)
    wish = parser.parse_args()
    folder = wish.folder.absolute()
    if wish.sums:
        sys.executable = wish.sums
        tell_sums(folder)
        return
    folder.mkdir(parents=True, exist_ok=True)
    make_masters(folder)
    here = None
    for name, (emulator, compiled_for) in MACHINES.items():
        if here is not None and wish.only not in name:
            continue
        started = time.perf_counter()
        found = sums_on(emulator, compiled_for, folder)
        seconds = time.perf_counter() - started
        here = here or found
        whole = hashlib.sha256("".join(found.values()).encode()).hexdigest()
        others = [it for it in here if found.get(it) != here[it]]
        said = f"other: {'; '.join(others)}" if others else "same"
        print(f"{name:20} {whole[:16]} {seconds:6.0f} s  {said}", flush=True)


if __name__ == "__main__":
    main()
