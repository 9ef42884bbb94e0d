"""How is work on a file of others done where it can hurt nothing?"""

from __future__ import annotations

import atexit
import contextlib
import os
import pickle
import signal
import struct
import subprocess
import sys
import traceback
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from queue import Empty, Queue
from threading import Lock, Thread
from typing import IO, TYPE_CHECKING, Any, ParamSpec, TypeVar

from printplan.errors import PrintPlanError

if TYPE_CHECKING:
    from collections.abc import Callable

if sys.platform != "win32":  # where the clock alone is watched
    import resource

_Given = ParamSpec("_Given")
_Found = TypeVar("_Found")

_LENGTH = struct.Struct("<Q")
_MOST_ANSWER_BYTES = 512_000_000
"""A longer answer is not one of ours. Our choice: pixels go through files."""

_START_S = 120
"""A machine that needs longer to start a process is of no use. Our choice."""

_BEGIN = """\
import sys
sys.path[:] = sys.argv[1:]
from printplan.child_work import serve
serve()
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """
    What a piece of work may cost.

    Attributes
    ----------
    cpu_s : float
        Seconds of processors, all threads together; rounded up to whole ones.
    wall_s : float
        Seconds on the clock: a slow disk costs no processor.
    memory_bytes : int
        Private memory beyond what the child holds before; watched on Linux alone.
    """

    cpu_s: float
    wall_s: float
    memory_bytes: int


_LOADING = Budget(cpu_s=60, wall_s=_START_S, memory_bytes=10**9)


class BudgetError(Exception):
    """Work that was ended because it would not end, or brought its process down."""


def in_child(
    budget: Budget,
    work: Callable[_Given, _Found],
    *args: _Given.args,
    **kwargs: _Given.kwargs,
) -> _Found:
    """
    Do something in a process of its own, and wait for what it finds.

    Parameters
    ----------
    work : callable
        A function at the top of its module. Given and found things are pickled.

    Raises
    ------
    PrintPlanError
        What the work raised.
    BudgetError
        If it cost more than it may, or its process died of it.
    RuntimeError
        Anything else that it raised, with its trace: a fault of ours.

    Notes
    -----
    One child serves all calls of a process, one after the other, and ends with it. One
    that went over a budget is ended and followed by another at the next call.
    """
    found: _Found = _child().do(budget, (work, args, kwargs))
    return found


def get_ready(module: str) -> None:
    """
    Start the child in the background, and have it load a module.

    Parameters
    ----------
    module : str
        Its full name. What is wrong with it is told by the call that needs it.
    """

    def load() -> None:
        with contextlib.suppress(BudgetError, RuntimeError, OSError):
            in_child(_LOADING, _load, module)

    Thread(target=load, name="printplan-child", daemon=True).start()


def _load(module: str) -> None:
    import_module(module)


class _Child:
    """A process that does what it is told, until its input ends."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._process: subprocess.Popen[bytes] | None = None
        self._answers: Queue[bytes | None] = Queue()

    def do(self, budget: Budget, work: tuple[Any, ...]) -> Any:
        with self._lock:
            try:
                kind, found = self._asked(self._started(), budget, work)
            except BaseException:
                self.end()  # whatever it is doing, nobody waits for it any more
                raise
            if kind == "memory":
                self.end()
                raise BudgetError(
                    f"more than {budget.memory_bytes / 1e6:.0f} MB of memory"
                )
        if kind == "found":
            return found
        if kind == "refused":
            raise found
        raise RuntimeError(found)

    def _started(self) -> subprocess.Popen[bytes]:
        process = self._process
        if process is None or process.poll() is not None:
            self._process = process = subprocess.Popen(  # noqa: S603 - our own interpreter
                [sys.executable, "-c", _BEGIN, *filter(None, sys.path)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                # The keys of a terminal are for who started it.
                start_new_session=True,
            )
            self._answers = Queue()
            Thread(
                target=_listen, args=(process.stdout, self._answers), daemon=True
            ).start()
            try:
                began = self._answers.get(timeout=_START_S)
            except Empty:
                began = None
            if began is None:
                raise RuntimeError(
                    f"{sys.executable} does not start as a process of its own, so "
                    "files of others cannot be read."
                )
        return process

    def _asked(
        self, process: subprocess.Popen[bytes], budget: Budget, work: tuple[Any, ...]
    ) -> tuple[str, Any]:
        try:
            _send(process.stdin, pickle.dumps((budget, _here(), *work)))
            answer = self._answers.get(timeout=budget.wall_s)
        except Empty:
            raise BudgetError(f"more than {budget.wall_s:g} s") from None
        except BrokenPipeError:
            answer = None
        if answer is None:
            code = process.wait()
            if code == -getattr(signal, "SIGXCPU", 0):
                raise BudgetError(f"more than {budget.cpu_s:g} s of a processor")
            raise BudgetError(f"a decoder that broke down ({_ending(code)})")
        told: tuple[str, Any] = pickle.loads(answer)  # noqa: S301 - by our own process
        return told

    def end(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()
        for stream in (process.stdin, process.stdout):
            with contextlib.suppress(OSError, AttributeError):
                stream.close()  # type: ignore[union-attr]
        process.wait()


_children: dict[int, _Child] = {}
_children_lock = Lock()


def _child() -> _Child:
    """Find this process' own: a fork has its parent's pipes, and not the child."""
    with _children_lock:
        return _children.setdefault(os.getpid(), _Child())


def _end_own() -> None:
    child = _children.pop(os.getpid(), None)
    if child is not None:
        child.end()


atexit.register(_end_own)


def _ending(code: int) -> str:
    if code >= 0:
        return f"code {code}"
    with contextlib.suppress(ValueError):
        return signal.Signals(-code).name
    return f"signal {-code}"


def _listen(stream: IO[bytes], answers: Queue[bytes | None]) -> None:
    with contextlib.suppress(OSError, ValueError):
        while (answer := _received(stream)) is not None:
            answers.put(answer)
    answers.put(None)


def _here() -> str | None:
    """The current folder, from which relative paths begin; None if it is gone."""
    try:
        return str(Path.cwd())
    except OSError:
        return None


def _send(stream: IO[bytes] | None, content: bytes) -> None:
    if stream is None:
        return
    stream.write(_LENGTH.pack(len(content)))
    stream.write(content)
    stream.flush()


def _received(stream: IO[bytes]) -> bytes | None:
    """Take one message, or None if there is none any more."""
    head = stream.read(_LENGTH.size)
    if len(head) < _LENGTH.size:
        return None
    (length,) = _LENGTH.unpack(head)
    if length > _MOST_ANSWER_BYTES:
        return None
    content = stream.read(length)
    return content if len(content) == length else None


def serve() -> None:
    """Be the child: do what comes in, one after the other, until nothing can come."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    asked, answers = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    # What a library prints must not get among the answers.
    null = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1):
        os.dup2(null, stream)
    waiting: Queue[bytes] = Queue()
    Thread(target=_wait_for_work, args=(asked, waiting), daemon=True).start()
    if sys.platform != "win32":
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    _send(answers, b"")
    while True:
        _send(answers, _answer(waiting.get()))


def _wait_for_work(asked: IO[bytes], waiting: Queue[bytes]) -> None:
    while (content := _received(asked)) is not None:
        waiting.put(content)
    os._exit(0)  # whoever asked is gone, and what is being done is for nobody


def _answer(content: bytes) -> bytes:
    try:
        budget, here, work, args, kwargs = pickle.loads(content)  # noqa: S301 - by our parent
        _allow(budget)
        if here is not None:
            os.chdir(here)
        return pickle.dumps(("found", work(*args, **kwargs)))
    except PrintPlanError as error:
        return pickle.dumps(("refused", error))
    except MemoryError:
        return pickle.dumps(("memory", None))
    except Exception:  # noqa: BLE001 - told by who asked
        return pickle.dumps(("fault", traceback.format_exc()))
    finally:
        os.chdir(os.sep)  # a disk that is stood on cannot be taken out


def _allow(budget: Budget) -> None:
    """Let the system end what goes beyond: a library asks nobody."""
    if sys.platform == "win32":
        return
    used = resource.getrusage(resource.RUSAGE_SELF)
    _limit(resource.RLIMIT_CPU, used.ru_utime + used.ru_stime + budget.cpu_s + 1)
    if sys.platform == "linux":
        told = Path("/proc/self/statm").read_text(encoding="ascii")
        private_pages = int(told.split()[5])
        held = private_pages * resource.getpagesize()
        _limit(resource.RLIMIT_DATA, held + budget.memory_bytes)


def _limit(kind: int, most: float) -> None:
    if sys.platform == "win32":
        return
    _, hard = resource.getrlimit(kind)
    soft = int(most) if hard == resource.RLIM_INFINITY else min(int(most), hard)
    resource.setrlimit(kind, (soft, hard))
