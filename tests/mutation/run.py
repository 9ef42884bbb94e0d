"""
Small changes to four floors, drawn by seed: which of them do the tests notice?

    python tests/mutation/run.py --folder SOME reach
    python tests/mutation/run.py --folder SOME reach --marks slow tests/test_as_seen.py
    python tests/mutation/run.py --folder SOME try --count 320 --seed 1
    python tests/mutation/run.py --folder SOME try --count 320 --seed 1 --again

`reach` runs the fast tests under a trace and keeps, for each, its time and the lines it
runs; with names of test files, of those alone, beside what was kept. `try` changes one
module in memory as it is imported, in a forked process that holds the libraries but
nothing of printplan, and runs the fast tests that reach the changed line: those of the
two nearest files first, then others. What takes far too long counts as noticed.

Survivors that were looked at are listed in survivors.toml; those of the kind
*equivalent* are no loss, and the share is reckoned without them. Exit status 1 if fewer
than nine of ten are noticed, or if a survivor is not listed.
"""

import argparse
import json
import os
import sys
import tomllib
from collections import Counter
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ["CI"] = "1"  # the same random examples each time

import colour  # noqa: F401 - held ready for the children, as are those below
import imagecodecs  # noqa: F401
import jinja2  # noqa: F401
import matplotlib.figure  # noqa: F401
import pytest
import scipy.interpolate
import scipy.ndimage
import scipy.optimize
import scipy.signal
import scipy.spatial  # noqa: F401
import tifffile  # noqa: F401
import tomlkit  # noqa: F401
from hypothesis import HealthCheck, Phase, settings
from mutants import draw
from reach import FLOORS, ROOT, Reach
from trial import COMMON, Tests, try_mutant

settings.register_profile(
    "mutation",
    max_examples=25,
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
SURVIVORS = Path(__file__).with_name("survivors.toml")
FAST = "not slow and not browser and not tools"
NOTICED = {"noticed", "out of time"}
LEAST_SHARE = 0.9


def reach(folder, files, *, marks):
    """Run tests under a trace."""
    # Imported here alone: children of `try` are to import it changed.
    from printplan.demo.studio import make_studio  # noqa: PLC0415

    make_studio(folder / "studio")
    files = files or ["tests", *(f"printplan/{it}" for it in FLOORS)]
    common = [it for it in COMMON if it != "-x"]
    base = f"--basetemp={folder / 'base-reach'}"
    plugin = Reach(folder / "reach.jsonl", folder / "studio")
    return pytest.main([*common, "-m", marks, base, *files], [plugin])


def sources():
    paths = [
        it for floor in FLOORS for it in (ROOT / "printplan" / floor).rglob("*.py")
    ]
    return {str(it.relative_to(ROOT / "printplan")): it.read_text() for it in paths}


def key(it):
    return it["module"], it["text"], it["change"]


def try_all(folder, args):
    """Try each mutant that has no result yet, and say how all ended."""
    texts = sources()
    drawn = draw(texts, args.count, args.seed)
    tests = Tests(folder / "reach.jsonl", args.seconds)
    kept = folder / "results.jsonl"
    lines = kept.read_text().splitlines() if kept.exists() else []
    done = {key(it): it for it in map(json.loads, lines)}
    results = []
    for mutant in drawn:
        source = texts[mutant.module]
        text = source.splitlines()[mutant.line - 1].strip()
        before = done.get((mutant.module, text, mutant.change))
        if before is None or (args.again and before["end"] not in NOTICED):
            if args.offline:
                continue
            before = try_mutant(mutant, mutant.apply(source), tests, source, folder)
            with kept.open("a") as stream:
                stream.write(json.dumps(before) + "\n")
            print(f"{before['end']:12} {before['s']:5.1f} s  ", end="")
            print(f"{mutant.module}:{mutant.line}  {mutant.change[:90]!r}", flush=True)
        results.append(before)
    return report(results)


def control(folder, args):
    """Try modules as they are: each must pass its tests."""
    texts = sources()
    tests = Tests(folder / "reach.jsonl", args.seconds)
    wrong = 0
    for mutant in draw(texts, args.control, args.seed):
        source = texts[mutant.module]
        same = replace(mutant, change="nothing")
        end = try_mutant(same, source, tests, source, folder)
        if end["end"] in {*NOTICED, "cannot be tried"}:
            wrong += 1
            print(json.dumps(end), flush=True)
    print(f"{wrong} of {args.control} unchanged modules failed a test")
    return bool(wrong)


def report(results):
    """A table by floor, and the survivors that nobody has looked at."""
    listed = {key(it): it for it in tomllib.loads(SURVIVORS.read_text())["survivor"]}
    counts, unlisted = Counter(), []
    for it in results:
        floor = it["module"].split("/")[0]
        judged = listed.get(key(it))
        if it["end"] in NOTICED:
            kind = "noticed"
        elif judged is None:
            kind = "survived"
            unlisted.append(it)
        else:
            kind = "equivalent" if judged["kind"] == "equivalent" else "survived"
        counts[floor, kind] += 1
        counts["all", kind] += 1
    print(f"{'floor':12} drawn  equivalent  noticed / rest")
    for floor in (*FLOORS, "all"):
        noticed, same = counts[floor, "noticed"], counts[floor, "equivalent"]
        rest = noticed + counts[floor, "survived"]
        share = f"{noticed / rest:.1%}" if rest else "-"
        print(f"{floor:12} {rest + same:5}  {same:10}  {noticed} / {rest} = {share}")
    for it in unlisted:
        print("not listed:", json.dumps(it, ensure_ascii=False))
    rest = counts["all", "noticed"] + counts["all", "survived"]
    return bool(unlisted) or counts["all", "noticed"] < LEAST_SHARE * rest


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--folder", type=Path, required=True, help="for what is kept")
    commands = parser.add_subparsers(dest="command", required=True)
    reaching = commands.add_parser("reach")
    reaching.add_argument("files", nargs="*")
    reaching.add_argument("--marks", default=FAST, help="of the tests to run")
    trying = commands.add_parser("try")
    trying.add_argument("--count", type=int, default=320)
    trying.add_argument("--seed", type=int, default=1)
    trying.add_argument("--seconds", type=float, default=20, help="of tests at most")
    trying.add_argument("--again", action="store_true", help="what was not noticed")
    trying.add_argument("--offline", action="store_true", help="only tell what is kept")
    trying.add_argument("--control", type=int, help="try so many unchanged modules")
    args = parser.parse_args()
    os.chdir(ROOT)
    folder = args.folder.resolve()
    folder.mkdir(parents=True, exist_ok=True)
    if args.command == "reach":
        return reach(folder, args.files, marks=args.marks)
    if args.control:
        return control(folder, args)
    return try_all(folder, args)


if __name__ == "__main__":
    sys.exit(main())
