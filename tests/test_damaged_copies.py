"""Whatever happens to a decoded copy, no pixel of a print is another one."""

import os
import random
import shutil
import sys
from collections import Counter
from functools import partial

import numpy as np
import pytest
import tifffile

from printplan.colour.spaces import named_profile
from printplan.pixels import master_source
from printplan.pixels.master import open_master
from printplan.pixels.sealed_pixels import Recipe
from printplan.sizing.boxes import Box
from printplan.spec import NamedSpace

ROWS, COLUMNS = 90, 70
WHOLE = Box(0, 0, COLUMNS, ROWS)
SEEDS = {"bit": 260, "block": 100, "cut": 80, "longer": 20, "zeros": 30}


@pytest.fixture(autouse=True)
def small_blocks(monkeypatch):
    """Several blocks in a small picture."""
    monkeypatch.setattr(master_source, "Recipe", partial(Recipe, block_bytes=2000))


def write_packed(path, seed):
    pixels = np.random.default_rng(seed).integers(0, 65536, (ROWS, COLUMNS, 3))
    tifffile.imwrite(
        path,
        pixels.astype(np.uint16),
        photometric="rgb",
        compression="deflate",
        iccprofile=named_profile(NamedSpace.SRGB).data,
    )
    return pixels.transpose(2, 0, 1)


class Studio:
    """Two packed masters with their copies."""

    def __init__(self, folder, monkeypatch):
        self.cache = folder / "cache"
        self.decodings = Counter()
        decode = master_source.decoded

        def counted(decoding, target):
            self.decodings[decoding.path.name] += 1
            return decode(decoding, target)

        monkeypatch.setattr(master_source, "decoded", counted)
        self.path, self.other = folder / "a.tif", folder / "b.tif"
        self.pixels = write_packed(self.path, 1)
        write_packed(self.other, 2)
        self.open(self.path).close()
        (self.copy,) = self.cache.iterdir()
        self.open(self.other).close()
        (self.others_copy,) = set(self.cache.iterdir()) - {self.copy}
        self.sound = self.copy.read_bytes()
        self.decodings.clear()

    def open(self, path):
        return open_master(path, cache_folder=self.cache)

    def restore(self):
        if self.copy.is_dir() and not self.copy.is_symlink():
            self.copy.rmdir()
        self.copy.unlink(missing_ok=True)
        self.copy.write_bytes(self.sound)
        self.decodings.clear()


@pytest.fixture
def desk(tmp_path, monkeypatch):
    return Studio(tmp_path, monkeypatch)


def damaged(sound, kind, dice):
    """Other bytes, never the same ones."""
    data, place = bytearray(sound), dice.randrange(len(sound))
    if kind == "bit":
        data[place] ^= 1 << dice.randrange(8)
    elif kind == "block":
        end = place + 1 + dice.randrange(5000)
        data[place:end] = bytes(it ^ 0x55 for it in data[place:end])
    elif kind == "cut":
        del data[place:]
    elif kind == "longer":
        data[place:place] = dice.randbytes(1 + dice.randrange(64))
    else:
        data[place : place + 4096] = bytes(len(data[place : place + 4096]))
    return bytes(data)


@pytest.mark.slow
@pytest.mark.parametrize("kind", SEEDS)
def test_no_damage_changes_a_pixel(desk, kind):
    """Of the file at rest, and of one that is open and was read already."""
    for seed in range(SEEDS[kind]):
        desk.restore()
        data = damaged(desk.sound, kind, random.Random(seed))  # noqa: S311 - repeatable
        if seed % 2:
            desk.copy.write_bytes(data)
        with desk.open(desk.path) as master:
            if seed % 2 == 0:
                assert np.array_equal(master.codes(WHOLE), desk.pixels)
                desk.copy.write_bytes(data)
            assert np.array_equal(master.codes(WHOLE), desk.pixels), seed
            assert np.array_equal(
                master.codes(Box(5, 4, 9, 80)), desk.pixels[:, 4:84, 5:14]
            )
        with desk.open(desk.path) as master:  # whose seal alone may be damaged so far
            assert np.array_equal(master.codes(WHOLE), desk.pixels), seed
        same = data == desk.sound
        assert desk.decodings["a.tif"] == (not same), seed
        assert desk.copy.read_bytes() == desk.sound, seed


def exchange(desk):
    shutil.copyfile(desk.others_copy, desk.copy)


def link(desk):
    desk.copy.rename(desk.copy.with_name("elsewhere"))
    desk.copy.symlink_to("elsewhere")


def link_to_others(desk):
    desk.copy.unlink()
    desk.copy.symlink_to(desk.others_copy)


def link_to_nothing(desk):
    desk.copy.unlink()
    desk.copy.symlink_to("nothing")


def pipe(desk):
    desk.copy.unlink()
    os.mkfifo(desk.copy)


def empty(desk):
    desk.copy.write_bytes(b"")


def foreign_owner(desk):
    if os.geteuid() != 0:
        pytest.skip("Only root gives files away.")
    os.chown(desk.copy, 12345, 12345)


def shadow(desk):
    """Whose seal is right for what it says, of other pixels."""
    recipe = desk.sound
    other = bytearray(desk.others_copy.read_bytes())
    other[-32:] = recipe[-32:]
    desk.copy.write_bytes(other)


ACTS = [
    *(exchange, shadow, empty, pipe, foreign_owner),
    *(link, link_to_others, link_to_nothing),
]


@pytest.mark.skipif(sys.platform == "win32", reason="Links and pipes of POSIX.")
@pytest.mark.parametrize("act", ACTS)
@pytest.mark.parametrize("is_open", [False, True], ids=["at rest", "open"])
def test_what_is_not_our_copy_is_made_anew(desk, act, is_open):
    kept = desk.others_copy.read_bytes()
    if is_open:
        with desk.open(desk.path) as master:
            act(desk)
            assert np.array_equal(master.codes(WHOLE), desk.pixels)
    else:
        act(desk)
    with desk.open(desk.path) as master:
        assert np.array_equal(master.codes(WHOLE), desk.pixels)
    assert desk.copy.read_bytes() == desk.sound
    assert not desk.copy.is_symlink()
    assert desk.others_copy.read_bytes() == kept
    assert desk.decodings["a.tif"] == 1


def test_a_damaged_copy_of_a_master_that_is_gone_is_told(desk):
    with desk.open(desk.path) as master:
        desk.copy.write_bytes(damaged(desk.sound, "zeros", random.Random(1)))  # noqa: S311
        desk.path.unlink()
        with pytest.raises(Exception, match="There is no file") as refused:
            master.codes(WHOLE)
        assert refused.value.remedy
        write_packed(desk.path, 3)
        with pytest.raises(Exception, match="another file by now") as refused:
            master.codes(WHOLE)
        assert refused.value.remedy == "Open the master again."
        write_packed(desk.path, 1)
        assert np.array_equal(master.codes(WHOLE), desk.pixels)
