"""A file that is read back beside its writing, against `hashlib` and `zlib`."""

import hashlib
import io
import os
import zlib
from contextlib import nullcontext

import numpy as np
import pytest

from printplan.errors import RenderError
from printplan.pixels import written_file
from printplan.pixels.written_file import WrittenFile

BYTES = np.random.default_rng(3).integers(0, 256, 50_000, np.uint8).tobytes()


@pytest.fixture
def small_steps(monkeypatch):
    """Many turns of putting and reading, as a large file has."""
    monkeypatch.setattr(written_file, "_PUT_BYTES", 3000)
    monkeypatch.setattr(written_file, "_PIECE_BYTES", 700)


def written(path, pieces):
    with io.BufferedWriter(WrittenFile(path, nullcontext)) as file:
        for piece in pieces:
            file.write(piece)
        file.flush()
        return file.raw.finish()


@pytest.mark.usefixtures("small_steps")
@pytest.mark.parametrize("step", [1, 999, 3000, 17_000, 50_000])
def test_what_is_read_back_is_the_file(tmp_path, step):
    pieces = [BYTES[at : at + step] for at in range(0, len(BYTES), step)]
    found = written(tmp_path / "a", pieces)
    found.require_as_written()
    assert (tmp_path / "a").read_bytes() == BYTES
    assert found.sha256 == hashlib.sha256(BYTES).hexdigest()
    assert found.crc32 == found.written_crc32 == zlib.crc32(BYTES)
    assert found.length == found.written_length == len(BYTES)


@pytest.mark.usefixtures("small_steps")
def test_what_was_read_back_leaves_the_memory_of_the_system(tmp_path, monkeypatch):
    let_go = []
    monkeypatch.setattr(
        os,
        "posix_fadvise",
        lambda _descriptor, start, length, advice: let_go.append(
            (start, length, advice)
        ),
        raising=False,
    )
    monkeypatch.setattr(os, "POSIX_FADV_DONTNEED", "let go", raising=False)
    written(tmp_path / "a", [BYTES[at : at + 999] for at in range(0, 50_000, 999)])
    ends = np.cumsum([length for _, length, _ in let_go])
    assert [start for start, _, _ in let_go] == [0, *ends[:-1]]
    assert ends[-1] == len(BYTES)
    assert {advice for _, _, advice in let_go} == {"let go"}


@pytest.mark.usefixtures("small_steps")
def test_a_system_that_cannot_be_told_keeps_it(tmp_path, monkeypatch):
    monkeypatch.delattr(os, "posix_fadvise", raising=False)
    assert written(tmp_path / "a", [BYTES]).sha256 == hashlib.sha256(BYTES).hexdigest()


def test_empty_file_reads_back(tmp_path):
    found = written(tmp_path / "a", [])
    found.require_as_written()
    assert (found.length, found.sha256) == (0, hashlib.sha256().hexdigest())


@pytest.mark.usefixtures("small_steps")
@pytest.mark.parametrize("turn", [0, 2, 5])
@pytest.mark.parametrize("back", [1, 1500, 2999])
def test_byte_that_the_disk_changes_is_found(tmp_path, monkeypatch, turn, back):
    """In what a disk is just asked to take, at any turn of it."""
    turns = []

    def spoil(descriptor):
        if len(turns) == turn:
            at = os.fstat(descriptor).st_size - back
            kept = (tmp_path / "a").read_bytes()[at]
            os.pwrite(descriptor, bytes([kept ^ 1]), at)
        turns.append(None)

    monkeypatch.setattr(os, "fsync", spoil)
    with WrittenFile(tmp_path / "a", nullcontext) as file:
        for at in range(0, len(BYTES), 3000):
            file.write(BYTES[at : at + 3000])
            if file._following is not None:  # the disk has it before more comes
                file._following.result()
        found = file.finish()
    assert len(turns) > turn
    with pytest.raises(RenderError, match=r"sum of its bytes.*Render it again"):
        found.require_as_written()


@pytest.mark.usefixtures("small_steps")
def test_file_that_is_cut_short_is_found(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "fsync", lambda it: os.ftruncate(it, 40_000))
    with pytest.raises(RenderError, match=r"its length is 40000.*Render it again"):
        written(tmp_path / "a", [BYTES]).require_as_written()


@pytest.mark.usefixtures("small_steps")
@pytest.mark.parametrize("turn", [0, 1])
def test_what_the_disk_says_while_more_is_written_is_raised(
    tmp_path, monkeypatch, turn
):
    turns = []

    def full(_):
        turns.append(None)
        if len(turns) > turn:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        written(tmp_path / "a", [BYTES[at : at + 500] for at in range(0, 50_000, 500)])


def test_nothing_is_written_again(tmp_path):
    with WrittenFile(tmp_path / "a", nullcontext) as file:
        file.write(BYTES)
        with pytest.raises(io.UnsupportedOperation, match="from its start"):
            file.seek(0)


def test_file_that_is_there_is_not_touched(tmp_path):
    (tmp_path / "a").write_bytes(b"theirs")
    with pytest.raises(FileExistsError):
        WrittenFile(tmp_path / "a", nullcontext)
    assert (tmp_path / "a").read_bytes() == b"theirs"
