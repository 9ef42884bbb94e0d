"""What a lesson makes for practice touches no book of a person, and is gone."""

import subprocess
import sys
from pathlib import Path

from printplan.record.paper_book import read_paper_book
from printplan.workbook.bench import Bench
from printplan.workbook.practice import practice_folder


def test_the_folder_holds_a_copy_of_the_paper_book(studio):
    with Bench.open(studio.lesson_path) as bench:
        one, other = practice_folder(bench), practice_folder(bench)
        assert one != other
        assert read_paper_book(one / "paper-book.toml") == bench.book
        assert not one.is_relative_to(studio.folder)


def test_the_folder_is_gone_with_the_kernel(studio):
    code = f"""
from printplan.workbook import Bench, practice_folder
folder = practice_folder(Bench.open({str(studio.lesson_path)!r}))
(folder / "print.tif").write_bytes(b"x" * 1000)
print(folder)
"""
    done = subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, text=True
    )
    folder = Path(done.stdout.strip())
    assert folder.name.startswith("printplan-")
    assert "-practice-" in folder.name
    assert not folder.exists()
