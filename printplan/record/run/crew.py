"""Which processes does the work of a run go to, and what if one of them dies?"""

from __future__ import annotations

import os
import signal
from collections import deque
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    Executor,
    Future,
    ProcessPoolExecutor,
    ThreadPoolExecutor,
    wait,
)
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from multiprocessing import (
    active_children,
    current_process,
    get_context,
    parent_process,
)
from queue import SimpleQueue
from threading import Event, Thread
from typing import TYPE_CHECKING, Any, Generic, ParamSpec, TypeVar

from printplan.errors import PrintPlanError, RecordError, RenderError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from types import FrameType

_Task = TypeVar("_Task")
_Found = TypeVar("_Found")
_Given = ParamSpec("_Given")

_LOOK_S = 0.2
"""How often it is looked whether the user had enough."""

_JOIN_S = 20
"""A cluster that does not answer within this time is not there. Our choice."""

_THREADS_OF = (
    "OMP_NUM_THREADS",
    "OPENBLAS_NUM_THREADS",
    "MKL_NUM_THREADS",
    "VECLIB_MAXIMUM_THREADS",
)
"""By which names libraries of linear algebra are told how many threads to start."""


@dataclass(frozen=True, slots=True)
class Crew:
    """
    What work goes to.

    Attributes
    ----------
    executor : Executor
    at_once : int
        Pieces of work that it does side by side.
    threads : int
        That each of them may keep busy.
    deaths : tuple of type
        What a piece of work ends in whose process died.
    """

    executor: Executor
    at_once: int
    threads: int
    deaths: tuple[type[BaseException], ...] = (BrokenExecutor,)


@dataclass(frozen=True, slots=True)
class Outcome(Generic[_Task, _Found]):
    """
    What became of a piece of work.

    Attributes
    ----------
    found : object
        None if it ended in an error.
    """

    task: _Task
    found: _Found | None = None
    error: PrintPlanError | None = None


def outcomes(
    crew: Crew,
    act: Callable[[_Task], _Found],
    tasks: Iterable[_Task],
    is_cancelled: Callable[[], bool] = lambda: False,
) -> Iterator[Outcome[_Task, _Found]]:
    """
    Let a crew do something to many things.

    Parameters
    ----------
    act : callable
        A function at the top of its module. Given and found things are pickled.
    is_cancelled : callable, optional
        Asked again and again; then no more work is begun, and none is waited for.

    Yields
    ------
    Outcome
        As they come. One that ends in an error leaves the others alone.
    """
    waiting = deque(tasks)
    running: dict[Future[_Found], _Task] = {}
    try:
        while (waiting or running) and not is_cancelled():
            while waiting and len(running) < crew.at_once:
                task = waiting.popleft()
                running[_submitted(crew.executor, act, task)] = task
            done, _ = wait(running, _LOOK_S, return_when=FIRST_COMPLETED)
            for future in done:
                yield _outcome(running.pop(future), future, crew.deaths)
    finally:
        for future in running:
            future.cancel()


def _submitted(
    executor: Executor, act: Callable[[_Task], _Found], task: _Task
) -> Future[_Found]:
    try:
        return executor.submit(act, task)
    except BrokenExecutor as error:  # one that does not mend itself
        failed: Future[_Found] = Future()
        failed.set_exception(error)
        return failed


def _outcome(
    task: _Task, future: Future[_Found], deaths: tuple[type[BaseException], ...]
) -> Outcome[_Task, _Found]:
    try:
        return Outcome(task, found=future.result())
    except PrintPlanError as error:
        return Outcome(task, error=error)
    except deaths:
        died = RenderError(
            "The process that worked on this print died: it was killed, or had not "
            "enough memory.",
            remedy="Run the table again, which makes only what is missing. If it dies "
            "again, close other programs, use fewer workers, or print it smaller.",
        )
        return Outcome(task, error=died)
    except Exception as error:  # noqa: BLE001 - the others go on
        fault = RenderError(
            f"This is a fault in printplan ({type(error).__name__}: {error}).",
            remedy="Report it with this row; the other rows are not touched by it.",
        )
        return Outcome(task, error=fault)


# This machine


def cores() -> int:
    """Processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextmanager
def own_crew(workers: int | None = None) -> Iterator[Crew]:
    """
    Processes on this machine, as long as the block runs.

    Parameters
    ----------
    workers : int, optional
        As many as there are processors if not given.

    Yields
    ------
    Crew
        The processors are shared out among them. Where the block ends in an error or
        an interruption, what they do is broken off, and leaves no file.

    Raises
    ------
    RecordError
        If that is no number of workers, or a worker is just beginning here.
    """
    count = cores() if workers is None else workers
    if not 1 <= count <= 256:
        raise RecordError(
            f"{count} workers were asked for.",
            remedy=f"Give 1 to 256; this machine has {cores()} processors.",
        )
    # As multiprocessing itself asks, whose own words come too late and help nobody.
    if getattr(current_process(), "_inheriting", False):
        raise RecordError(
            "A process that makes prints for another one was to start more of them.",
            remedy="In a script, put what it does below: if __name__ == '__main__': "
            "each process begins by reading the script once.",
        )
    threads = max(1, cores() // count)
    pool = _Lanes(count, threads)
    try:
        yield Crew(pool, at_once=count, threads=threads)
    except BaseException:
        pool.break_off()
        raise
    finally:
        pool.shutdown()


class _Lanes(Executor):
    """
    Processes of which each does one thing at a time, and dies alone.

    A pool of several ends all its processes if one of them dies, and does not tell
    which piece of work that one held. Here each process is a pool of its own: what it
    held is lost, and another process follows it.
    """

    def __init__(self, count: int, threads: int) -> None:
        self._threads = threads
        self._waiting = ThreadPoolExecutor(count, thread_name_prefix="printplan-lane")
        self._free: SimpleQueue[ProcessPoolExecutor] = SimpleQueue()
        self._busy: set[int] = set()
        self._is_ending = Event()
        for _ in range(count):
            self._free.put(self._new())

    def _new(self) -> ProcessPoolExecutor:
        return ProcessPoolExecutor(
            1,
            # A fork would copy the threads' locks of a kernel or of a test.
            mp_context=get_context("spawn"),
            initializer=_begin,
            initargs=(self._threads,),
        )

    def submit(
        self,
        fn: Callable[_Given, _Found],
        /,
        *args: _Given.args,
        **kwargs: _Given.kwargs,
    ) -> Future[_Found]:
        """Do something in the next process that is free."""
        return self._waiting.submit(self._in_lane, partial(fn, *args, **kwargs))

    def _in_lane(self, act: Callable[[], _Found]) -> _Found:
        lane = self._free.get()
        process = 0
        try:
            try:
                process = lane.submit(os.getpid).result()
            except BrokenExecutor:  # it died while it held nothing
                lane.shutdown(wait=False)
                lane = self._new()
                process = lane.submit(os.getpid).result()
            self._busy.add(process)
            if self._is_ending.is_set():
                raise KeyboardInterrupt
            return lane.submit(_do, act).result()
        except BrokenExecutor:
            lane.shutdown(wait=False)
            lane = self._new()
            raise
        finally:
            self._busy.discard(process)
            self._free.put(lane)

    def break_off(self) -> None:
        """Let each process break off what it does, and clear it up."""
        self._is_ending.set()
        for child in active_children():
            if child.pid in self._busy:
                with suppress(OSError):
                    child.terminate()

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = True) -> None:  # noqa: FBT001, FBT002 - as of the base class
        """End all processes."""
        self._is_ending.set()
        self._waiting.shutdown(wait=wait, cancel_futures=cancel_futures)
        while not self._free.empty():
            self._free.get().shutdown(wait=wait)


_is_working = False


def _begin(threads: int) -> None:
    """Be a process of a crew, before any library of numbers is loaded."""
    for name in _THREADS_OF:
        os.environ[name] = str(threads)
    # The keys of a terminal are for who started it, who then says what ends.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _break_off)
    Thread(target=_end_with_parent, daemon=True).start()


def _break_off(_number: int, _frame: FrameType | None) -> None:
    if _is_working:
        raise KeyboardInterrupt  # which leaves no file half written


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)  # nobody is there who waits for it


def _do(act: Callable[[], _Found]) -> _Found:
    global _is_working  # noqa: PLW0603 - a signal finds nothing else
    _is_working = True
    try:
        return act()
    finally:
        _is_working = False


# A cluster


@contextmanager
def cluster_crew(address: str) -> Iterator[Crew]:
    """
    The workers of a dask cluster, as long as the block runs.

    Parameters
    ----------
    address : str
        Of its scheduler: ``tcp://host:8786``.

    Yields
    ------
    Crew
        Each thread of each worker does one print at a time. Workers read and write the
        same paths, so table, masters and profiles lie where all of them reach them.

    Raises
    ------
    RecordError
        If there is no such cluster, it has no workers, or its library is missing.

    Notes
    -----
    A print whose worker dies is tried on another one. The cluster's own setting
    (``distributed.scheduler.allowed-failures``) says how often, until the print is
    taken for what kills them.
    """
    try:
        distributed: Any = import_module("distributed")  # an extra
    except ImportError as error:
        raise RecordError(
            "The library that speaks to a cluster is not installed.",
            remedy="Install printplan with its extra called cluster.",
        ) from error
    try:
        client = distributed.Client(address, timeout=_JOIN_S)
    except (OSError, ValueError) as error:  # its TimeoutError is an OSError
        raise RecordError(
            f"No scheduler answers at {address} ({error}).",
            remedy="Check that it runs, and give its address as tcp://host:8786.",
        ) from error
    with client:
        threads = sum(client.nthreads().values())
        if threads < 1:
            raise RecordError(
                f"The scheduler at {address} has no workers.",
                remedy="Start one on each machine: dask worker and that address.",
            )
        # Not pure: the same row is to be made again where its file has gone.
        executor = client.get_executor(pure=False)
        yield Crew(
            executor,
            at_once=threads,
            threads=1,
            deaths=(BrokenExecutor, distributed.KilledWorker),
        )
