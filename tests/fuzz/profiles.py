"""
Damaged profiles: refused in words, or good for a picture; nothing else.

    python tests/fuzz/profiles.py --count 3000

Each case is a sound profile with one to three changes, drawn from a seed. It runs in a
process of its own that may map 1 GB more than its libraries, and has 10 seconds. It
must end in a `ProfileError`, or be accepted; then a gradient that is converted by it
with every intent and proofed must hold more than one value, and a profile of a printer
comes into a paper book. A case that does neither is kept in the folder named by
``--keep``.
"""

import argparse
import os
import random
import subprocess
import sys
import warnings
from collections import Counter
from pathlib import Path
from struct import pack, unpack
from time import monotonic

MOST_BYTES, MOST_S = 1_000_000_000, 10.0
REFUSED, ACCEPTED = "refused", "accepted"
HERE = Path(__file__).parent


def cases(count, seed):
    """Name and content of each case, the same for the same seed."""
    from profiles_mutator import mutated  # noqa: PLC0415 - workers do without
    from profiles_seeds import seeds  # noqa: PLC0415

    known = list(seeds().items())
    for number in range(count):
        rng = random.Random(seed * 1_000_003 + number)  # noqa: S311 - no secret
        name, sound = known[number % len(known)]
        data, changes = mutated(sound, rng)
        yield f"{number}: {name}, {' + '.join(changes)}", data


def gradient():
    """All tones along one axis, from grey to strong colours along the other."""
    import numpy as np  # noqa: PLC0415

    across, down = np.meshgrid(np.linspace(0, 1, 64), np.linspace(0, 1, 64))
    planes = (across, across * (1 - down / 2), across + (1 - across) * down / 2)
    return np.rint(np.stack(planes, axis=-1) * 65535).astype(np.uint16)


def tried(data, *, thoroughly=True):
    """What becomes of a profile; whatever is raised but a refusal goes on."""
    from printplan.colour.profiles import open_profile  # noqa: PLC0415
    from printplan.errors import ProfileError  # noqa: PLC0415

    try:
        profile = open_profile(data)
        if profile.device_class == "prtr":
            used_as_paper(profile, thoroughly=thoroughly)
        else:
            used_as_space(profile)
    except ProfileError as error:
        if not (error.problem and error.remedy):
            return "refused without a remedy"
        return REFUSED
    return ACCEPTED


def used_as_paper(profile, *, thoroughly):
    from printplan.colour.pixel_conversion import convert  # noqa: PLC0415
    from printplan.colour.profile_gate import require_output_profile  # noqa: PLC0415
    from printplan.colour.proof import device_to_screen  # noqa: PLC0415
    from printplan.spec import BlackPointCompensation, Intent  # noqa: PLC0415

    require_output_profile(profile)
    for intent in Intent:
        for wish in BlackPointCompensation if thoroughly else ("on",):
            device = convert(
                gradient(),
                "romm rgb",
                profile,
                intent=intent,
                black_point_compensation=wish,
            )
            require_picture(device, f"{intent}, {wish}")
    for intent in (Intent.MEDIA_RELATIVE, Intent.ICC_ABSOLUTE):
        device_to_screen(profile, intent).from_device(device)
    if thoroughly:
        added_to_a_book(profile)


def added_to_a_book(profile):
    """As `printplan add paper` does it, sentences and all."""
    from dataclasses import replace  # noqa: PLC0415
    from tempfile import TemporaryDirectory  # noqa: PLC0415

    from printplan.checks.output_profile import profile_lines  # noqa: PLC0415
    from printplan.demo.scenario import studio_printer  # noqa: PLC0415
    from printplan.media import DriverColour  # noqa: PLC0415
    from printplan.record import paper_book  # noqa: PLC0415
    from printplan.record.paper_from_profile import (  # noqa: PLC0415
        add_from_profile,
        judge_profile,
        propose_from,
    )

    takes = DriverColour.CMYK if profile.space == "CMYK" else DriverColour.RGB
    printer = replace(studio_printer(), driver_colour=takes)
    with TemporaryDirectory(prefix="printplan-profiles-") as folder:
        (Path(folder) / "studio").mkdir()
        book = Path(folder) / "studio" / "book.toml"
        found = Path(folder) / "found.icc"
        found.write_bytes(profile.data)
        paper_book.write_paper_book(
            paper_book.PaperBook(printers=(printer,), papers=()), book
        )
        judged = judge_profile(found, printer)
        proposal = propose_from(judged, paper_book.read_paper_book(book))
        _ = [str(it) for it in (*profile_lines(judged.quality), *proposal.rows())]
        add_from_profile(book, judged, proposal)
        (paper,) = paper_book.read_paper_book(book).papers
        if Path(paper.on_printer[0].profile).read_bytes() != profile.data:
            message = "the book's copy of the profile is another"
            raise AssertionError(message)


def used_as_space(profile):
    from printplan.colour.pixel_conversion import convert  # noqa: PLC0415
    from printplan.spec import Intent  # noqa: PLC0415

    picture = gradient()
    channels = profile.channels
    own = picture if channels == 3 else picture[..., [0] * channels]
    for intent in Intent:
        require_picture(
            convert(own, profile, "romm rgb", intent=intent), f"from it, {intent}"
        )
    if profile.device_class != "scnr":
        device = convert(picture, "romm rgb", profile)
        require_picture(device, "to it")


def require_picture(numbers, what):
    import numpy as np  # noqa: PLC0415

    if not np.isfinite(numbers).all() or (numbers == numbers[0, 0]).all():
        message = f"{what}: one single value"
        raise AssertionError(message)


# The process that a case runs in


def work():
    """Answer each case on standard input (see `Worker.outcome`) with a line."""
    import resource  # noqa: PLC0415 - not everywhere

    from profiles_seeds import seeds  # noqa: PLC0415

    # All libraries are loaded before memory is limited.
    assert tried(seeds()["lut8"]) == ACCEPTED
    mapped = int(Path("/proc/self/statm").read_text().split()[0]) * os.sysconf(
        "SC_PAGE_SIZE"
    )
    resource.setrlimit(resource.RLIMIT_AS, (mapped + MOST_BYTES,) * 2)
    warnings.simplefilter("error")
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    while head := sys.stdin.buffer.read(5):
        length, thoroughly = unpack(">I?", head)
        data = sys.stdin.buffer.read(length)
        try:
            outcome = tried(data, thoroughly=thoroughly)
        except Exception as error:  # noqa: BLE001 - this is what is looked for
            frame = _innermost(error)
            outcome = f"{type(error).__name__} at {frame}: {error}".replace("\n", " ")
        sys.stdout.write(outcome + "\n")
        sys.stdout.flush()


def _innermost(error):
    """Where of ours it came from."""
    trace, found = error.__traceback__, "?"
    while trace:
        path = Path(trace.tb_frame.f_code.co_filename)
        if "printplan" in path.parts:
            found = f"{path.name}:{trace.tb_lineno}"
        trace = trace.tb_next
    return found


class Worker:
    """A process that cases run in, begun anew when one ends it."""

    def __init__(self):
        self.process = None

    def _begin(self):
        before = os.environ.get("PYTHONPATH", "")
        path = os.pathsep.join([str(HERE.parent.parent), before])
        self.process = subprocess.Popen(
            [sys.executable, str(HERE / "profiles.py"), "--worker"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": path, "OMP_NUM_THREADS": "1"},
        )
        self._line(60.0)

    def _line(self, within_s):
        from select import select  # noqa: PLC0415

        ready, _, _ = select([self.process.stdout], [], [], within_s)
        return self.process.stdout.readline().decode() if ready else None

    def outcome(self, data, *, thoroughly):
        """What it says of a case, or how it ended."""
        if self.process is None:
            self._begin()
        try:
            self.process.stdin.write(pack(">I?", len(data), thoroughly) + data)
            self.process.stdin.flush()
            line = self._line(MOST_S)
        except BrokenPipeError:
            line = ""
        if line:
            return line.strip()
        hung = line is None
        self.close()
        return f"no end within {MOST_S:g} s" if hung else "ended the process"

    def close(self):
        if self.process is not None:
            self.process.kill()
            self.process.communicate()
            self.process = None


def campaign(count, seed, keep=None, thorough_every=1):
    """Run the cases; outcomes counted, those that are failures, and the longest."""
    counted, failures, worker = Counter(), [], Worker()
    slowest_s, slowest = 0.0, ""
    try:
        for number, (name, data) in enumerate(cases(count, seed)):
            began_s = monotonic()
            outcome = worker.outcome(data, thoroughly=number % thorough_every == 0)
            slowest_s, slowest = max(
                (slowest_s, slowest), (monotonic() - began_s, name)
            )
            if outcome in {REFUSED, ACCEPTED}:
                counted[outcome] += 1
                continue
            counted["failed"] += 1
            failures.append(f"{name}: {outcome}")
            if keep is not None:
                (keep / f"{name.split(':')[0]}.icc").write_bytes(data)
    finally:
        worker.close()
    return counted, failures, (slowest_s, slowest)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--count", type=int, default=3000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="folder for cases that fail")
    parser.add_argument("--worker", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.worker:
        work()
        return 0
    if asked.keep:
        asked.keep.mkdir(parents=True, exist_ok=True)
    began_s = monotonic()
    counted, failures, slow = campaign(asked.count, asked.seed, asked.keep)
    print(*failures, sep="\n")
    print(
        f"{asked.count} cases, seed {asked.seed}, in {monotonic() - began_s:.0f} s: "
        f"{counted[REFUSED]} refused, {counted[ACCEPTED]} accepted, "
        f"{counted['failed']} failed; the slowest took {slow[0]:.1f} s ({slow[1]})"
    )
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
