"""Measures of a picture are taken once, and no file is trusted that is not whole."""

import os
import time
from collections import OrderedDict
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
import photographs
import pytest

from printplan.pixels import kept_measures, master_measures, picture_content
from printplan.pixels.kept_measures import KeptMeasures
from printplan.pixels.master import open_master
from printplan.pixels.master_measures import (
    CubeFaces,
    MasterMeasures,
    ToneLevels,
)
from printplan.sharpening.content import ContentFacts
from printplan.sharpening.noise import BandNoise
from printplan.sizing.enlargement import Enlargement


@dataclass(frozen=True)
class Length:
    mm: float


@pytest.fixture(autouse=True)
def cache(tmp_path, monkeypatch):
    folder = tmp_path / "cache"
    monkeypatch.setenv("PRINTPLAN_CACHE", str(folder))
    return folder


def new():
    """The same kind, as another process would have it."""
    return KeptMeasures("length", 3, lambda told: Length(**told))


def taking(value, taken):
    def measure():
        taken.append(value)
        return Length(value)

    return measure


def test_the_next_process_does_not_measure():
    taken = []
    assert new().of("a", taking(0.1 + 0.2, taken)) == Length(0.1 + 0.2)
    assert new().of("a", taking(7.0, taken)) == Length(0.1 + 0.2)
    assert new().of("b", taking(7.0, taken)) == Length(7.0)
    assert taken == [0.1 + 0.2, 7.0]


def test_of_many_askers_one_measures():
    taken, kept = [], new()

    def slowly():
        time.sleep(0.05)
        return taking(2.0, taken)()

    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda _: kept.of("a", slowly), range(8)))
    assert taken == [2.0]
    assert all(it is found[0] for it in found)


def test_a_process_keeps_the_latest_in_its_memory():
    kept = new()
    for name in "abcad":
        kept.of(name, taking(ord(name), []))
    assert [key for key, _ in kept.all_known()] == ["c", "a", "d"]
    assert kept.known("b") is None
    assert kept.known("d") == Length(100)


def test_a_damaged_file_is_measured_again(cache):
    new().of("a", taking(1234.5, []))
    (path,) = cache.iterdir()
    whole = path.read_bytes()
    places = range(len(whole))
    cut = [whole[:end] for end in places]
    turned = [whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :] for at in places]
    for data in [*cut, *turned, b"\xff" * 100, whole + b" ", b"\n" * 2_000_000]:
        path.write_bytes(data)
        assert new().of("a", taking(1234.5, [])) == Length(1234.5)
        assert path.read_bytes() == whole


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="this system has no owners")
def test_what_others_put_there_is_not_read(cache, tmp_path):
    new().of("a", taking(1.0, []))
    (path,) = cache.iterdir()
    elsewhere = tmp_path / "elsewhere"
    path.replace(elsewhere)
    path.symlink_to(elsewhere)
    assert new().of("a", taking(2.0, [])) == Length(2.0)
    assert not path.is_symlink()
    path.unlink()
    os.mkfifo(path)
    assert new().of("a", taking(3.0, [])) == Length(3.0)
    if os.geteuid() == 0:
        os.chown(path, 12345, 12345)
        assert new().of("a", taking(4.0, [])) == Length(4.0)


def test_other_code_measures_again(monkeypatch):
    new().of("a", taking(1.0, []))
    monkeypatch.setattr(kept_measures, "_measuring_code", lambda: "other code")
    assert new().of("a", taking(2.0, [])) == Length(2.0)


def test_code_is_told_by_its_text(monkeypatch, tmp_path):
    tell = kept_measures._measuring_code.__wrapped__
    package = tmp_path / "package"
    (package / "sizing" / "inner").mkdir(parents=True)
    (package / "pixels").mkdir()
    path = package / "sizing" / "inner" / "code.py"
    path.write_text("1")
    monkeypatch.setattr(kept_measures, "__file__", str(package / "pixels" / "it.py"))
    before = tell()
    assert tell() == before
    path.write_text("2")
    assert tell() != before


def test_a_disk_that_takes_nothing_costs_time_alone(cache):
    cache.write_bytes(b"no folder")
    taken = []
    for _ in range(2):
        assert new().of("a", taking(1.0, taken)) == Length(1.0)
    assert taken == [1.0, 1.0]


def test_a_disk_that_cannot_be_read_costs_time_alone(monkeypatch):
    class Stream:
        def __enter__(self):
            return self

        def __exit__(self, *_):
            pass

        def read(self, _):
            raise OSError(5, "Input/output error")

    monkeypatch.setattr(kept_measures, "own_file", lambda _: Stream())
    taken = []
    assert new().of("a", taking(2.0, taken)) == Length(2.0)
    assert taken == [2.0]


def test_what_cannot_be_measured_leaves_nothing_behind():
    def measure():
        raise ValueError("no edges")

    kept = new()
    for _ in range(2):
        with pytest.raises(ValueError, match="no edges"):
            kept.of("a", measure)
    assert not kept._measuring
    assert kept.of("a", taking(2.0, [])) == Length(2.0)


def test_the_oldest_files_go(cache, monkeypatch):
    monkeypatch.setattr(kept_measures, "MOST_FILES", 3)
    for day, name in enumerate("abcde"):
        before = set(cache.iterdir()) if day else set()
        new().of(name, taking(float(day), []))
        (made,) = set(cache.iterdir()) - before
        os.utime(made, (day, day))
    (cache / "of-somebody.json").write_text("{}")
    taken = []
    for name in "edcba":
        new().of(name, taking(9.0, taken))
    assert taken == [9.0, 9.0]
    assert (cache / "of-somebody.json").exists()


CONTENTS = [
    ContentFacts(
        master_edge_sigma_px=0.1 + 0.2,
        edge_sigma_px=None,
        edge_count=12,
        overshoot_share=1e-17,
        already_sharpened=True,
        noise_l=0.25,
        noise_by_tone=(BandNoise(lowest_l=0.0, highest_l=1 / 3, noise_l=0.7),) * 2,
        smooth_share=0.5,
        texture_share=0.25,
        words="Mostly smooth – “so”.",
        edge_tones_l=(12.5, 1 / 7),
    )
]
CONTENTS.append(replace(CONTENTS[0], edge_tones_l=None, noise_by_tone=()))
OF_MASTERS = [
    MasterMeasures(enlargement=None, block_share=0.1, tones=None, faces=None),
    MasterMeasures(
        enlargement=Enlargement(factor=2.0, rhythm=1 / 3, drop_db=7.0),
        block_share=0.0,
        tones=ToneLevels(empty_share=0.1, codes=3, levels=4),
        faces=CubeFaces(clipped_share=0.1, pile=float("inf"), outside_share=0.2),
    ),
]


@pytest.mark.parametrize(
    ("kept", "measures"),
    [(picture_content._kept, it) for it in CONTENTS]
    + [(master_measures._kept, it) for it in OF_MASTERS],
)
def test_what_is_read_is_what_was_measured(kept, measures, monkeypatch, cache):
    """To the last bit, for both kinds that are kept."""
    for _ in range(2):
        monkeypatch.setattr(kept, "_known", OrderedDict())
        found = kept.of("a", lambda: measures)
        assert found == measures
    assert found is not measures
    assert len(list(cache.iterdir())) == 1


def test_of_a_real_picture_the_same_is_read(tmp_path, monkeypatch):
    rng = np.random.default_rng(4)
    pixels = rng.integers(0, 65536, (300, 400, 3), np.uint16)
    path = photographs.tagged_tiff(tmp_path / "noise.tif", pixels)
    found = []
    for _ in range(2):
        monkeypatch.setattr(master_measures._kept, "_known", OrderedDict())
        with open_master(path) as master:
            found.append(master_measures.master_measures(master))
    assert found[0] == found[1]
    assert found[0] is not found[1]
