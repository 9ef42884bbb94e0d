"""
Forty prints of the demo studio: alone, in two processes, on a cluster, and with deaths.

Wants the extra ``cluster``. Makes the studio and all prints in a temporary folder of
some hundred megabytes, and takes a few minutes of two processors that nobody else uses:

    python tests/benchmarks/many_prints.py [--count 40]

Printed are ratios: wall time of two processes over the sum of what the prints take of a
processor when they are made one after the other in a single process, shared out among
the processors used; and the peak of a worker's memory over that of the single process.

Other programs spoil the wall time. Two ratios beside it hardly feel them: the same with
every second on the clock replaced by those of a processor, and how long the processes
had nothing to do.
"""

import argparse
import heapq
import os
import resource
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from itertools import product
from pathlib import Path
from threading import Event, Thread

import measured_work

from printplan.demo.studio import make_studio
from printplan.own_process import maker_in
from printplan.pixels.small_picture import SmallPicture
from printplan.record.plan_file import open_plan_file, read_plan_file, write_plan_file
from printplan.record.run.carry_out import RowResult, RowState, Run
from printplan.record.run.crew import Crew, cluster_crew, own_crew
from printplan.record.run.steps import Prepared
from printplan.spec import DeliverySpec, Extent, SizeRule, SizeSpec

WORKERS = 2
WIDTHS_MM = (150, 190, 230, 270, 300)
PPI = 300


class Measured:
    """
    A crew's executor that notes what each piece of work takes.

    Attributes
    ----------
    cpu_s : dict of list of float
        Seconds of a processor by what was done, in the order of being begun.
    busy_s : float
        Seconds on the clock, of all processes together.
    """

    def __init__(self, executor):
        self._executor = executor
        self.cpu_s, self.busy_s, self.peaks = {}, 0.0, {}

    @property
    def all_cpu_s(self):
        return sum(map(sum, self.cpu_s.values()))

    def submit(self, act, task):
        future = self._executor.submit(measured_work.measured, act, task)
        whole = type(future)()
        noted = self.cpu_s.setdefault(act.__name__, [])
        place = len(noted)
        noted.append(0.0)
        future.add_done_callback(lambda it: self._note(it, whole, noted, place))
        return whole

    def _note(self, future, whole, noted, place):
        error = future.exception()
        if error is not None:
            whole.set_exception(error)
            return
        found, cpu_s, busy_s, peak, process = future.result()
        noted[place] = cpu_s
        self.busy_s += busy_s
        self.peaks[process] = max(peak, self.peaks.get(process, 0))
        whole.set_result(found)


def write_plans(studio, folder, count):
    """Plans of the demo's photographs in several sizes on several papers."""
    base = [read_plan_file(it).resolved(it) for it in studio.plan_paths]
    papers = [it.name for it in studio.book.papers]
    folder.mkdir(parents=True)
    names = []
    for wish, paper, width_mm in product(base, papers, WIDTHS_MM):
        printer = studio.book.printers[0]
        setup = studio.book.paper(paper).on(printer)
        name = f"{Path(wish.master.file).stem}-{width_mm}-{papers.index(paper)}.toml"
        spec = replace(
            wish.spec,
            size=SizeSpec(rule=SizeRule.WIDTH, width_mm=width_mm, ppi=PPI),
            sheet=replace(wish.spec.sheet, media_size="A3", feed=setup.feeds[0]),
            delivery=DeliverySpec(extent=Extent.PICTURE),
        )
        write_plan_file(
            replace(wish, paper=paper, spec=spec),
            folder / name,
        )
        names.append(name)
    # Of all sizes and papers, not the first ones.
    chosen = names[:: max(1, len(names) // count)][:count]
    chosen += [it for it in names if it not in chosen][: count - len(chosen)]
    table = folder / "forty.csv"
    table.write_text("\n".join(["plan", *chosen]) + "\n", encoding="utf-8")
    return table


def carried_out(table, book, crew, *, prepared=None):
    """Make the prints of a table; what was checked before is not checked again."""
    run = Run(table, book)
    with run.alone():
        began_s = time.perf_counter()
        if prepared is None:
            run.prepare(crew)
        else:
            run._results = moved(prepared, table)
        run.make(crew)
        return run.result(), time.perf_counter() - began_s, run


def moved(results, table):
    """Results of checking the same plans in another folder."""
    return {
        number: replace(
            it,
            prepared=replace(
                it.prepared,
                plan_path=table.parent / it.prepared.plan_path.name,
                asked=asked_in(table, it.prepared.plan_path.name),
                made=None,
            ),
            made=None,
            seconds=None,
        )
        for number, it in results.items()
    }


def say(words):
    print(words, flush=True)


def longest_s(seconds, lanes):
    """When the last lane is done, if each takes the next piece as it is free."""
    free_s = [0.0] * lanes
    for it in seconds:
        heapq.heapreplace(free_s, free_s[0] + it)
    return max(free_s)


def words_of(cpu_s, steps_s):
    return ", ".join(
        f"{name} {step_s:.1f} s" for name, step_s in zip(cpu_s, steps_s, strict=True)
    )


def ended_children_s():
    """Seconds of processors of all processes that were begun here and have ended."""
    told = resource.getrusage(resource.RUSAGE_CHILDREN)
    return told.ru_utime + told.ru_stime


def asked_in(table, name):
    path = table.parent / name
    return read_plan_file(path).resolved(path)


def unchecked(table, book):
    """Rows as if they had been checked and nothing found: only files are made."""
    run, rows = Run(table, book), {}
    for row in run.rows:
        asked = read_plan_file(row.plan_path).resolved(row.plan_path)
        sheet = open_plan_file(asked)
        sheet.master.close()
        prepared = Prepared(
            number=row.number,
            plan_path=row.plan_path,
            asked=asked,
            plan=sheet.plan,
            is_new=False,
            findings=(),
            proof=SmallPicture(jpeg=b"", width_px=1, height_px=1, description=""),
            paper=None,
            ink_ml=None,
            made=None,
        )
        rows[row.number] = RowResult(row=row, prepared=prepared)
    return rows


def hashes(result):
    for it in result.failed:
        say(f"failed: {it.row.name}: {it.error}")
    return {it.row.name: it.made.sha256 for it in result.rows if it.made}


@contextmanager
def cluster():
    """A scheduler and two workers, each a process of its own, on this machine."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"tcp://127.0.0.1:{port}"
    own = ["--host", "127.0.0.1", "--no-dashboard"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with ExitStack() as stack:

        def start(program, *arguments):
            process = subprocess.Popen(
                [sys.executable, "-m", f"distributed.cli.{program}", *arguments, *own],
                **quiet,
            )
            stack.callback(process.wait)
            stack.callback(process.terminate)

        start("dask_scheduler", "--port", str(port))
        folder = stack.enter_context(tempfile.TemporaryDirectory())
        for _ in range(WORKERS):
            start(
                "dask_worker", address, "--nthreads", "1", "--local-directory", folder
            )
        wait_for_workers(address)
        yield address


def wait_for_workers(address):
    # Not at the top, which each process of a crew reads when it begins.
    from distributed import Client  # noqa: PLC0415

    ends_s = time.monotonic() + 180
    while True:
        try:
            with Client(address, timeout=5) as client:
                client.wait_for_workers(WORKERS, timeout=60)
                return
        except OSError:
            if time.monotonic() > ends_s:
                raise


def kill_one(folder, after, ended):
    """End one worker in the middle of a print, after some prints are made."""
    killed = []

    def watch():
        while not killed and not ended.wait(0.002):
            if len(list(folder.glob("*.tif"))) < after:
                continue
            for part in folder.glob(".printplan-*.part"):
                maker = maker_in(part.name)
                if maker is not None and maker.process != os.getpid():
                    os.kill(maker.process, signal.SIGKILL)
                    killed.append(maker.process)
                    return

    thread = Thread(target=watch)
    thread.start()
    return thread, killed


def copied(table, name):
    """The same plans once more, without what was made of them."""
    target = table.parent.with_name(name)
    target.mkdir()
    for it in (table, *table.parent.glob("*.toml")):
        if ".record" not in it.name:
            shutil.copy2(it, target)
    return target / table.name


def main():
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    asked.add_argument("--count", type=int, default=40)
    asked.add_argument(
        "--only-make", action="store_true", help="Leave the checks away: half the time."
    )
    told = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        measure(Path(folder), told.count, only_make=told.only_make)


def say_ratios(noted, single_s, wall_s, all_s):
    """What two processes took, over what the prints take alone."""
    used = min(WORKERS, os.cpu_count() or 1)
    say(
        f"{WORKERS} processes: {wall_s:.1f} s, {all_s:.1f} s of a processor, "
        f"their start included"
    )
    say(
        f"  wall / (sum alone / {used}): {wall_s / (single_s / used):.2f}, at most 1.10"
    )
    start_s = (all_s - noted.all_cpu_s) / WORKERS
    steps_s = [longest_s(it, used) for it in noted.cpu_s.values()]
    model_s = start_s + sum(steps_s)
    say(
        f"  the same in seconds of processors: {model_s / (single_s / used):.2f} "
        f"(start {start_s:.1f} s, {words_of(noted.cpu_s, steps_s)})"
    )
    own_s = noted.all_cpu_s / used
    say(f"  over what the prints took of processors here: {model_s / own_s:.2f}")
    idle = 1 - noted.busy_s / (WORKERS * wall_s)
    say(f"  nothing to do, starting and ending: {idle:.1%} of the time")
    say(f"  processors, whatever else they did: {all_s / single_s:.2f} of the sum")


def measure(folder, count, *, only_make):
    os.environ["PRINTPLAN_CACHE"] = str(folder / "cache")
    studio = make_studio(folder / "studio")
    book = studio.book_path
    table = write_plans(studio, folder / "two", count)
    tables = {name: copied(table, name) for name in ("alone", "cluster", "killed")}

    rows = unchecked(table, book) if only_make else None
    with own_crew(1) as crew:
        noted = Measured(crew.executor)
        one = Crew(noted, at_once=1, threads=crew.threads)
        result, alone_s, run = carried_out(tables["alone"], book, one, prepared=rows)
    alone, prepared = hashes(result), run._results
    single_s, single_peak = noted.all_cpu_s, max(noted.peaks.values())
    say(f"{len(alone)} prints alone: {alone_s:.1f} s, {single_s:.1f} s of a processor")

    began_s, before_s = time.perf_counter(), ended_children_s()
    with own_crew(WORKERS) as crew:
        noted = Measured(crew.executor)
        two = Crew(noted, at_once=WORKERS, threads=crew.threads)
        result, _, _ = carried_out(table, book, two, prepared=rows)
    wall_s = time.perf_counter() - began_s
    all_s = ended_children_s() - before_s
    say_ratios(noted, single_s, wall_s, all_s)
    for peak in noted.peaks.values():
        say(
            f"  a worker's peak: {peak / 1024:.0f} MB, "
            f"{peak / single_peak:.2f} of the single process"
        )
    say(f"  the same files: {hashes(result) == alone}")

    with cluster() as address, cluster_crew(address) as crew:
        result, wall_s, _ = carried_out(
            tables["cluster"], book, crew, prepared=prepared
        )
    say(f"cluster of {WORKERS} workers: {wall_s:.1f} s to make them")
    say(f"  the same files: {hashes(result) == alone}")

    ended, target = Event(), tables["killed"]
    thread, killed = kill_one(target.parent, count // 4, ended)
    try:
        with own_crew(WORKERS) as crew:
            result, _, _ = carried_out(target, book, crew, prepared=prepared)
            lost = len(result.failed)
            made = sum(it.state is RowState.MADE for it in result.rows)
            say(f"{len(killed)} worker killed: {made} made, {lost} lost")
            result, _, _ = carried_out(target, book, crew)
    finally:
        ended.set()
        thread.join()
    again = sum(it.state is RowState.MADE for it in result.rows)
    say(f"  the next run: {again} made, the same files: {hashes(result) == alone}")


if __name__ == "__main__":
    main()
