import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import printplan

HEAVY = ["numpy", "PIL", "scipy", "matplotlib", "colour", "ipywidgets", "tifffile"]
LONGEST_S = 0.1

MEASURED = """
import json, sys, time
before = set(sys.modules)
start_s = time.perf_counter()
import printplan
taken_s = time.perf_counter() - start_s
print(json.dumps([taken_s, sorted(set(sys.modules) - before)]))
"""

LOADED = """
import json, printplan
print(json.dumps({name: str(getattr(printplan, name)) for name in printplan.__all__}))
"""

PLANNING = """
import json, sys
import printplan.checks, printplan.media, printplan.plan, printplan.spec
import printplan.sizing.layout, printplan.sizing.media_sizes
import printplan.sizing.print_size
print(json.dumps(sorted(sys.modules)))
"""


def told(code, *folders):
    """What a fresh interpreter prints that has this package on its path."""
    paths = [*folders, Path(printplan.__file__).parent.parent]
    kept = os.environ.get("PYTHONPATH")
    path = os.pathsep.join([*map(str, paths), *([kept] if kept else [])])
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        check=True,
        text=True,
        env=os.environ | {"PYTHONPATH": path},
    )
    assert done.stderr == ""
    return json.loads(done.stdout)


def test_import_is_quick_and_brings_no_heavy_library():
    runs = [told(MEASURED) for _ in range(5)]
    for _, brought in runs:
        assert "printplan" in brought
        assert {name.split(".")[0] for name in brought} & set(HEAVY) == set()
        assert [name for name in brought if name.startswith("printplan.")] == []
    assert min(taken_s for taken_s, _ in runs) < LONGEST_S


def test_planning_brings_no_heavy_library():
    """All that numbers can decide is decided without the libraries of pixels."""
    assert {name.split(".")[0] for name in told(PLANNING)} & set(HEAVY) == set()


@pytest.mark.slow
def test_every_name_can_be_loaded(tmp_path):
    described = tmp_path / "printplan-98.7.dist-info"
    described.mkdir()
    (described / "METADATA").write_text(
        "Metadata-Version: 2.1\nName: printplan\nVersion: 98.7\n"
    )
    loaded = told(LOADED, tmp_path)
    assert loaded.pop("__version__") == "98.7"
    assert sorted(["__version__", *loaded]) == sorted(printplan.__all__)
    for name, described_as in loaded.items():
        assert re.search(rf"\b{name}\b", described_as)


def test_names_are_offered_and_others_are_not():
    assert set(printplan.__all__) <= set(dir(printplan))
    assert printplan.resolve is printplan.plan.resolve
    with pytest.raises(AttributeError, match=r"attribute.*no_such_name"):
        printplan.no_such_name  # noqa: B018 - asking is the test
