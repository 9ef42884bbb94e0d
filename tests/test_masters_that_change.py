"""Whatever others do to a master meanwhile, no process dies and no print is wrong."""

import hashlib
import os
import random
import shutil
import subprocess
import sys
from threading import Thread
from time import sleep

import numpy as np
import pytest
import tifffile

from printplan.colour.spaces import named_profile
from printplan.errors import MasterError
from printplan.pixels.master import open_master
from printplan.pixels.render import render
from printplan.pixels.sheet import build_sheet
from printplan.sizing.boxes import Box
from printplan.spec import NamedSpace

ROWS, COLUMNS = 900, 1200
TRIALS = int(os.environ.get("PRINTPLAN_TRIALS", "36"))
"""Of each kind. The long run: PRINTPLAN_TRIALS=200"""


def write_master(path, *, seed=1, packed=False):
    rng = np.random.default_rng(seed)
    pixels = rng.integers(0, 65536, (ROWS, COLUMNS, 3), np.uint16)
    tifffile.imwrite(
        path,
        pixels,
        photometric="rgb",
        compression="deflate" if packed else None,
        predictor=packed,
        iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
        metadata=None,
    )


def save_in_place(path, other):
    """As many programs save: the same file is made empty, and filled again."""
    with path.open("wb") as saving:
        content = other.read_bytes()
        for start in range(0, len(content), 400_000):
            saving.write(content[start : start + 400_000])
            saving.flush()


def shorten(path, _):
    os.truncate(path, path.stat().st_size // 3)


def grow(path, _):
    with path.open("ab") as saving:
        saving.write(bytes(100_000))


def delete(path, _):
    path.unlink()


def replace(path, other):
    new = path.with_name("new")
    shutil.copyfile(other, new)
    new.replace(path)


def write_within(path, _):
    with path.open("r+b") as saving:
        saving.seek(path.stat().st_size // 2)
        saving.write(bytes(50_000))


ACTS = [save_in_place, shorten, grow, delete, replace, write_within]
# The file that is open is another one than the one of that name, or has no name.
HARMLESS = {delete, replace}


class Desk:
    """A master that others work on while it is rendered."""

    def __init__(self, folder, plan_for, *, packed):
        self.folder, self.packed, self.plan_for = folder, packed, plan_for
        self.sound, self.other = folder / "sound", folder / "other"
        write_master(self.sound, packed=packed)
        write_master(self.other, seed=2, packed=packed)
        self.path = folder / "master.tif"
        self.restore()
        self.wanted = self.render(lambda: None)

    def restore(self):
        self.path.unlink(missing_ok=True)
        shutil.copyfile(self.sound, self.path)

    def render(self, meanwhile):
        """Hash of the file, or the refusal, of a print that somebody disturbs."""
        out = self.folder / "print.tif"
        out.unlink(missing_ok=True)
        refusal = None
        with open_master(self.path, cache_folder=self.folder / "cache") as master:
            sheet = build_sheet(master, self.plan_for(master, width_mm=60.0))
            disturber = Thread(target=meanwhile)
            disturber.start()
            try:
                render(sheet, out)
            except MasterError as error:
                refusal = error
            disturber.join()
        assert list(self.folder.glob(".*")) == []
        if refusal is not None:
            assert not out.exists()
            return refusal
        return hashlib.sha256(out.read_bytes()).hexdigest()


@pytest.fixture(params=[False, True], ids=["in place", "packed"])
def desk(tmp_path, plan_for, request):
    return Desk(tmp_path, plan_for, packed=request.param)


@pytest.mark.slow
def test_a_master_that_changes_during_a_render_is_told_or_does_no_harm(desk):
    outcomes = []
    for turn in range(TRIALS // 2):
        act = ACTS[turn % len(ACTS)]
        wait_s = random.Random(turn).random() * 0.2  # noqa: S311 - repeatable

        def disturb(act=act, wait_s=wait_s):
            sleep(wait_s)
            act(desk.path, desk.other)

        found = desk.render(disturb)
        if isinstance(found, MasterError):
            assert "changed while it was read" in found.problem
            assert act not in HARMLESS
        else:
            assert found == desk.wanted, act
        outcomes.append(found)
        desk.restore()
        if turn % 10 == 0:
            assert desk.render(lambda: None) == desk.wanted
    if not desk.packed:
        assert any(isinstance(it, MasterError) for it in outcomes)


@pytest.mark.slow
def test_a_master_that_changes_between_previews_is_told_or_does_no_harm(desk):
    whole = Box(0, 0, COLUMNS, ROWS)
    with open_master(desk.path, cache_folder=desk.folder / "cache") as master:
        wanted = master.codes(whole)
    for turn in range(TRIALS // 2):
        act = ACTS[turn % len(ACTS)]
        with open_master(desk.path, cache_folder=desk.folder / "cache") as master:
            disturber = Thread(target=act, args=(desk.path, desk.other))
            disturber.start()
            refusals = []
            for _ in range(6):
                try:
                    found = master.codes(whole)
                except MasterError as error:
                    refusals.append(error.problem)
                else:
                    assert np.array_equal(found, wanted), act
                    assert not refusals
            assert all("changed while it was read" in it for it in refusals)
            disturber.join()
        desk.restore()


MOUNTED = """
import sys
from pathlib import Path
from printplan.errors import PrintPlanError
from printplan.pixels.master import open_master
from printplan.sizing.boxes import Box
import subprocess
place, cache = Path(sys.argv[1]), Path(sys.argv[2])
master = open_master(place / "master.tif", cache_folder=cache)
whole = Box(0, 0, master.facts.width_px, master.facts.height_px)
before = master.codes(whole)
subprocess.run(["umount", "-l", str(place)], check=True)
assert (master.codes(whole) == before).all()
master.close()
try:
    open_master(place / "master.tif", cache_folder=cache)
except PrintPlanError as error:
    print(error.problem)
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="Mounts as Linux does.")
@pytest.mark.parametrize("packed", [False, True], ids=["in place", "packed"])
def test_a_disk_that_is_taken_away_is_told(tmp_path, packed):
    """Let go lazily, as a desktop does: what is open can still be read."""
    place = tmp_path / "disk"
    place.mkdir()
    if shutil.which("mount") is None or os.geteuid() != 0:
        pytest.skip("Only root mounts disks.")
    mount = ["mount", "-t", "tmpfs", "-o", "size=40m", "none", str(place)]
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("No disk can be mounted here.")
    try:
        write_master(place / "master.tif", packed=packed)
        found = subprocess.run(
            [sys.executable, "-c", MOUNTED, place, tmp_path / "cache"],
            capture_output=True,
            text=True,
            check=False,
        )
    finally:
        subprocess.run(["umount", "-l", place], capture_output=True, check=False)
    assert found.returncode == 0, found.stderr
    assert found.stdout.startswith("There is no file ")
