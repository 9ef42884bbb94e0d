"""Decoded masters in the cache: used again, repaired, thrown away."""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
import sys
from contextlib import closing
from types import SimpleNamespace

import numpy as np
import pytest
import tifffile

from printplan.colour.spaces import named_profile
from printplan.errors import MasterError
from printplan.free_name import part_path
from printplan.pixels import master_source, working_copy
from printplan.pixels.master import open_master
from printplan.pixels.sealed_pixels import DamagedError, Recipe
from printplan.pixels.working_copy import (
    copies_in,
    copy_path,
    default_cache_folder,
    make_copy,
    make_room,
    open_copy,
    write_copy,
)
from printplan.sizing.boxes import Box
from printplan.spec import NamedSpace

SHAPE = (20, 7, 3)
U16 = np.dtype(np.uint16)


def pixels(seed=0):
    return np.random.default_rng(seed).integers(0, 65536, SHAPE, np.uint16)


def bands_of(whole, rows=6):
    for top in range(0, len(whole), rows):
        yield whole[top : top + rows], 2


def recipe_of(text="a", shape=SHAPE, dtype=U16):
    return Recipe(text, shape, dtype)


def make(path, recipe, bands):
    return decoded(path, recipe, lambda _room: bands)


def decoded(path, recipe, decode):
    return make_copy(path, recipe, lambda half: write_copy(half, recipe, decode))


def made(folder, text="a"):
    recipe = recipe_of(text)
    path = copy_path(folder, recipe)
    make(path, recipe, bands_of(pixels())).close()
    return path


def held(copy):
    with closing(copy):
        return copy.pixels.read(0, SHAPE[0], 0, SHAPE[1])


def test_copy_holds_the_bands_and_what_was_clipped(tmp_path):
    path = copy_path(tmp_path / "new" / "folder", recipe_of())
    copy = make(path, recipe_of(), bands_of(pixels()))
    assert np.array_equal(held(copy), pixels())
    assert copy.pixels.clipped_count == 8
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_decoder_may_fill_the_room_itself(tmp_path):
    """All of it first, and then give its parts, or arrays of its own between them."""

    def decode(room):
        room[...] = pixels()
        yield room[:6], 2
        yield pixels()[6:13].astype(np.float64), 0
        yield room[13:], 1

    with closing(
        decoded(copy_path(tmp_path, recipe_of()), recipe_of(), decode)
    ) as copy:
        assert np.array_equal(copy.pixels.read(0, SHAPE[0], 0, SHAPE[1]), pixels())
        assert copy.pixels.clipped_count == 3
        copy.pixels.check()


def test_copy_is_found_again_by_its_recipe(tmp_path):
    path = made(tmp_path)
    again = open_copy(path, recipe_of())
    assert np.array_equal(held(again), pixels())
    assert again.pixels.clipped_count == 8
    assert open_copy(copy_path(tmp_path, recipe_of("b")), recipe_of("b")) is None


def test_copy_of_another_master_or_shape_is_not_taken(tmp_path):
    path = made(tmp_path)
    for other in (
        recipe_of("b"),
        recipe_of(shape=(7, 20, 3)),
        recipe_of(dtype=np.dtype(np.int16)),
        recipe_of(shape=(20, 14, 3), dtype=np.dtype(np.uint8)),
    ):
        assert open_copy(path, other) is None


def failing():
    yield pixels()[:6], 0
    raise MasterError("The strip is damaged.", remedy="Copy it again.")


def test_copy_appears_whole_or_not_at_all(tmp_path):
    path = copy_path(tmp_path, recipe_of())
    with pytest.raises(MasterError, match="Copy it again"):
        make(path, recipe_of(), failing())
    with pytest.raises(DamagedError, match="6 of 20 rows"):
        make(path, recipe_of(), [(pixels()[:6], 0)])
    with pytest.raises(DamagedError, match="24 of 20 rows"):
        make(path, recipe_of(), [(pixels()[:12], 0), (pixels()[:12], 0)])
    assert list(tmp_path.iterdir()) == []


def test_full_disk_is_told_with_a_remedy(tmp_path, monkeypatch):
    def full(stream, *_):
        stream.write(b"as far as it goes")
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(working_copy, "write_sealed", full)
    with pytest.raises(MasterError, match="set PRINTPLAN_CACHE to a folder on another"):
        make(copy_path(tmp_path, recipe_of()), recipe_of(), bands_of(pixels()))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("reserves", [True, False], ids=["reserved", "asked"])
def test_disk_without_room_is_told_before_anything_is_decoded(
    tmp_path, monkeypatch, reserves
):
    """A mapped file must have all its room: what is missing would end the process."""
    if reserves and not hasattr(os, "posix_fallocate"):
        pytest.skip("this system reserves no room")

    def full(*_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    if reserves:
        monkeypatch.setattr(os, "posix_fallocate", full)
    else:
        monkeypatch.delattr(os, "posix_fallocate", raising=False)
        left = SimpleNamespace(free=recipe_of().file_bytes - 1)
        monkeypatch.setattr(shutil, "disk_usage", lambda _: left)
    with pytest.raises(MasterError, match="set PRINTPLAN_CACHE to a folder on another"):
        decoded(copy_path(tmp_path, recipe_of()), recipe_of(), pytest.fail)
    assert list(tmp_path.iterdir()) == []
    if not reserves:
        left.free += 1
        assert np.array_equal(held_of(tmp_path), pixels())


def held_of(folder):
    return held(make(copy_path(folder, recipe_of()), recipe_of(), bands_of(pixels())))


def test_folder_that_cannot_be_made_is_told_with_a_remedy(tmp_path):
    (tmp_path / "file").write_bytes(b"")
    path = copy_path(tmp_path / "file" / "cache", recipe_of())
    with pytest.raises(MasterError, match="set PRINTPLAN_CACHE to a folder on another"):
        make(path, recipe_of(), bands_of(pixels()))


def aged(path, age_s):
    status = path.stat()
    os.utime(path, (status.st_atime - age_s, status.st_mtime - age_s))


def test_room_is_made_by_what_was_unused_longest(tmp_path):
    old, middle, new = (made(tmp_path, name) for name in "abc")
    aged(old, 300)
    aged(middle, 200)
    aged(new, 100)
    size = new.stat().st_size
    make_room(tmp_path, size, limit_bytes=3 * size)
    assert sorted(tmp_path.iterdir()) == sorted([middle, new])


def test_copy_that_was_read_again_counts_as_new(tmp_path):
    old, new = (made(tmp_path, name) for name in "ab")
    aged(old, 300)
    aged(new, 200)
    open_copy(old, recipe_of()).close()
    make_room(tmp_path, 0, limit_bytes=old.stat().st_size)
    assert list(tmp_path.iterdir()) == [old]


def test_copy_in_use_is_kept_until_it_is_closed(tmp_path):
    path = made(tmp_path)
    first, second = (open_copy(path, recipe_of()) for _ in range(2))
    for copy in (first, second):
        make_room(tmp_path, 0, limit_bytes=0)
        assert path.exists()
        copy.close()
        copy.close()
    make_room(tmp_path, 0, limit_bytes=0)
    assert not path.exists()


def test_other_files_in_the_folder_are_never_touched(tmp_path):
    own = tmp_path / "master-of-mine.npy"
    own.write_bytes(bytes(1000))
    half = tmp_path / "master-new.part"
    half.write_bytes(b"being written")
    abandoned = tmp_path / "master-old.part"
    abandoned.write_bytes(b"left by a crash")
    aged(abandoned, 2 * 24 * 3600)
    made(tmp_path)
    make_room(tmp_path, 0, limit_bytes=0)
    assert sorted(tmp_path.iterdir()) == sorted([own, half])


@pytest.mark.parametrize("suffix", ["planes", "npy"])
def test_copies_of_earlier_versions_make_room(tmp_path, suffix):
    earlier = tmp_path / f"master-{'0' * 32}.{suffix}"
    earlier.write_bytes(bytes(1000))
    aged(earlier, 300)
    path = made(tmp_path)
    make_room(tmp_path, 0, limit_bytes=path.stat().st_size)
    assert list(tmp_path.iterdir()) == [path]


def part_name_of_a_process_that_ended(target):
    code = (
        "import sys; from pathlib import Path;"
        "from printplan.free_name import part_path;"
        "print(part_path(Path(sys.argv[1])).name)"
    )
    told = subprocess.run(
        [sys.executable, "-c", code, target], capture_output=True, check=True, text=True
    )
    return told.stdout.strip()


@pytest.mark.skipif(sys.platform == "win32", reason="Processes cannot be asked there.")
def test_copy_whose_maker_ended_goes_at_the_next_start(tmp_path):
    path = copy_path(tmp_path, recipe_of())
    left = tmp_path / part_name_of_a_process_that_ended(path)
    left.write_bytes(b"half of it")
    living = part_path(path)
    living.write_bytes(b"being written")
    assert open_copy(path, recipe_of()) is None
    assert list(tmp_path.iterdir()) == [living]
    left.write_bytes(b"half of it")
    make_room(tmp_path, 0)
    assert list(tmp_path.iterdir()) == [living]


def test_copies_are_read_whole_without_their_masters(tmp_path):
    assert list(copies_in(tmp_path / "none")) == []
    sound, damaged, exchanged = (made(tmp_path, name) for name in "abc")
    data = bytearray(damaged.read_bytes())
    data[100] ^= 1
    damaged.write_bytes(data)
    exchanged.write_bytes(sound.read_bytes())
    (tmp_path / f"master-{'0' * 32}.pixels").write_bytes(b"nothing of ours")
    found = dict(copies_in(tmp_path))
    assert found[sound] == ""
    assert found[damaged] == "It is damaged (block 0)."
    assert found[exchanged] == "It is the copy of another master."
    assert found[tmp_path / f"master-{'0' * 32}.pixels"].startswith("It is damaged (it")
    assert len(found) == 4


def test_folder_comes_from_the_environment_or_the_system(monkeypatch, tmp_path):
    monkeypatch.setenv("PRINTPLAN_CACHE", str(tmp_path / "here"))
    assert default_cache_folder() == tmp_path / "here"
    monkeypatch.delenv("PRINTPLAN_CACHE")
    assert default_cache_folder().name == "printplan"


# Seen from a master --------------------------------------------------------------


@pytest.fixture
def packed(tmp_path):
    path = tmp_path / "packed.tif"
    tifffile.imwrite(
        path,
        pixels(),
        photometric="rgb",
        compression="deflate",
        iccprofile=named_profile(NamedSpace.SRGB).data,
    )
    return path


def light_of(path, folder):
    with open_master(path, cache_folder=folder) as master:
        return master.linear(Box(0, 0, 7, 20))


@pytest.fixture
def decodings(monkeypatch):
    """Counts how often a master is decoded."""
    count = []
    decode = master_source.decoded

    def counted(*arguments):
        count.append(arguments)
        return decode(*arguments)

    monkeypatch.setattr(master_source, "decoded", counted)
    return count


def test_master_is_decoded_once(packed, tmp_path, decodings):
    first = light_of(packed, tmp_path / "cache")
    renamed = packed.rename(tmp_path / "other name.tif")
    assert np.array_equal(light_of(renamed, tmp_path / "cache"), first)
    assert len(decodings) == 1


def test_master_is_decoded_anew_when_its_copy_is_damaged(packed, tmp_path, decodings):
    first = light_of(packed, tmp_path / "cache")
    (copy,) = (tmp_path / "cache").iterdir()
    copy.write_bytes(copy.read_bytes()[:-20])
    assert np.array_equal(light_of(packed, tmp_path / "cache"), first)
    assert len(decodings) == 2


def test_another_profile_or_master_has_a_copy_of_its_own(packed, tmp_path):
    light_of(packed, tmp_path / "cache")
    packed.write_bytes(packed.read_bytes() + b"\0")
    light_of(packed, tmp_path / "cache")
    assert len(list((tmp_path / "cache").iterdir())) == 2


def test_master_let_go_without_closing_frees_its_copy(packed, tmp_path):
    master = open_master(packed, cache_folder=tmp_path / "cache")
    (copy,) = (tmp_path / "cache").iterdir()
    make_room(copy.parent, 0, limit_bytes=0)
    assert copy.exists()
    del master
    make_room(copy.parent, 0, limit_bytes=0)
    assert not copy.exists()


def test_limit_holds_many_large_masters():
    """Sixty 16-bit RGB masters of 50 million pixels."""
    assert working_copy.CACHE_LIMIT_BYTES >= 60 * 50_000_000 * 3 * 2
