"""How do loops become machine code, once for each machine, and are found again?"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from _ctypes import _memmove_addr, _memset_addr  # type: ignore[attr-defined]
from collections import deque
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, suppress
from ctypes import CFUNCTYPE, c_float, c_int64, c_void_p
from functools import lru_cache
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from threading import Lock, RLock
from typing import (
    TYPE_CHECKING,
    Any,
    BinaryIO,
    Final,
    Generic,
    ParamSpec,
    Self,
    TypeVar,
    cast,
)

import llvmlite.binding as llvm
import numpy as np

from printplan.errors import RenderError
from printplan.free_name import part_path
from printplan.loops.kept_code import (
    code_name,
    kept_code,
    this_machine,
    writable_root,
)
from printplan.own_folders import passing_folder, sealed
from printplan.processor_share import threads_at_most

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import ModuleType

    Told = Callable[[int, int], None]

Arguments = ParamSpec("Arguments")
Function = TypeVar("Function", bound="Callable[..., Any]")

_NUMBERS: Final = {"float32": c_float, "int64": c_int64}
_OPTIONS: Final = {"nogil": True, "error_model": "numpy"}
"""No lock is held; a division by zero gives what IEEE 754 says. Fast mathematics stay
off: sums keep their order, and each product is rounded before it is added."""

_LENGTH_BYTES: Final = 8
"""Before the machine code that each process has made."""

_FROM_OUTSIDE: Final = {
    "memset": _memset_addr,
    "memcpy": _memmove_addr,
    "memmove": _memmove_addr,
}
"""What loops may call that is not in them: of C's own library."""


_loops: list[Loop[Any]] = []
_parts_of_loops: list[Callable[..., Any]] = []
_lock = RLock()
_engine: Any = None


class Loop(Generic[Arguments]):
    """
    A function over contiguous arrays, run as machine code.

    Parameters
    ----------
    function : callable
        Changes arrays that it is given; returns and allocates nothing.
    signatures : tuple of str
        Types of its arguments, one signature for each way in which it is used:
        ``float32``, ``int64``, or an array such as ``uint16[:,:]``.
    """

    def __init__(
        self, function: Callable[Arguments, None], signatures: tuple[str, ...]
    ) -> None:
        self.__doc__, self.__name__ = function.__doc__, function.__name__
        self.__module__, self.__wrapped__ = function.__module__, function
        self.entries = {_types(it): _Entry(self, _types(it)) for it in signatures}
        _loops.append(self)

    def __call__(self, *args: Arguments.args, **kwargs: Arguments.kwargs) -> None:
        """
        Run it; other threads go on meanwhile.

        Raises
        ------
        TypeError
            If an argument is of another type, or an array is not contiguous.
        """
        assert not kwargs  # noqa: S101 - an order is all that machine code knows
        entry = self.entries.get(tuple(map(_type_of, args)))
        if entry is None:
            found = ", ".join(map(_type_of, args))
            raise TypeError(f"{self.__name__} takes no ({found})")
        entry(args)


class _Entry:
    """A loop for one set of types, as a function of C."""

    def __init__(self, made_by: Loop[Any], types: tuple[str, ...]) -> None:
        self.name = f"{made_by.__name__}_{'_'.join(types)}".translate(_NAME_SIGNS)
        self.types, self._loop = types, made_by
        self._run: Callable[..., None] | None = None

    def __call__(self, args: tuple[Any, ...]) -> None:
        run = self._run or self._loaded()
        run(*(number for each in args for number in _as_c(each)))

    def _loaded(self) -> Callable[..., None]:
        address = _running().get_function_address(self.name)
        c_types = [it for kind in self.types for it in _c_types(kind)]
        self._run = CFUNCTYPE(None, *c_types)(address)
        return self._run

    def compiled(self) -> Any:
        """Optimised code of LLVM for this machine."""
        numba = import_module("numba")
        types = numba.types
        names, inner, c_types = [], [], []
        for number, kind in enumerate(self.types):
            dtype, dimensions = _taken_apart(kind)
            own = [f"a{number}", *(f"a{number}_{it}" for it in range(dimensions))]
            numba_type = getattr(types, dtype)
            c_types += [types.CPointer(numba_type) if dimensions else numba_type]
            c_types += [types.int64] * dimensions
            shape = "".join(f"{it}, " for it in own[1:])
            inner += [f"carray({own[0]}, ({shape}))" if dimensions else own[0]]
            names += own
        # What numbers a function of C takes depends on the loop: its text is put
        # together here, of nothing but names and commas.
        text = f"def entry({', '.join(names)}):\n    run({', '.join(inner)})\n"
        run = numba.njit(no_cpython_wrapper=True, **_OPTIONS)(self._loop.__wrapped__)
        scope = {"run": run, "carray": numba.carray}
        exec(text, scope)  # noqa: S102 - see above
        made = numba.cfunc(types.void(*c_types), **_OPTIONS)(scope["entry"])
        # Arrays that come from outside have no count of references to keep.
        module = llvm.parse_assembly(_COUNTING.sub("", made.inspect_llvm()))
        for function in module.functions:
            if function.name.startswith("cfunc."):
                function.name = self.name
            elif not function.is_declaration:
                function.linkage = "internal"
        _optimise(module)
        strange = {
            function.name
            for function in module.functions
            if function.is_declaration and not function.name.startswith("llvm.")
        } - set(_FROM_OUTSIDE)
        if strange:  # it allocates or raises: a fault of ours, found when it is written
            raise RuntimeError(f"{self.name} calls {', '.join(sorted(strange))}")
        return module


_COUNTING: Final = re.compile(r"^.*call void @NRT_(?:in|de)cref\(.*\n", re.MULTILINE)
_NAME_SIGNS: Final = str.maketrans({"[": "_", "]": None, ":": "n", ",": None})


def loop(
    *signatures: str,
) -> Callable[[Callable[Arguments, None]], Loop[Arguments]]:
    """
    Make a loop of a function.

    Parameters
    ----------
    *signatures : str
        As for `Loop`.
    """

    def made(function: Callable[Arguments, None]) -> Loop[Arguments]:
        return Loop(function, signatures)

    return made


def inlined(function: Function) -> Function:
    """Let loops call a function of numbers; it becomes part of them."""
    _parts_of_loops.append(function)
    return function


def _types(signature: str) -> tuple[str, ...]:
    return tuple(signature.split())


def _type_of(argument: Any) -> str:
    if isinstance(argument, np.ndarray):
        kept = argument.flags
        if kept.c_contiguous and kept.aligned:
            return _type_of_array(argument.dtype, argument.ndim)
        return f"array of {argument.dtype.name} that is not contiguous"
    return "int64" if isinstance(argument, int) else "float32"


@lru_cache
def _type_of_array(dtype: np.dtype[Any], dimensions: int) -> str:
    """Kept: a dtype's name takes NumPy as long as some loops take."""
    return f"{dtype.name}[{_COLONS[dimensions]}]"


_COLONS: Final = ("", ":", ":,:", ":,:,:")


def _taken_apart(kind: str) -> tuple[str, int]:
    """Type of the numbers, and dimensions; a number has none."""
    dtype, _, shape = kind.partition("[")
    return dtype, shape.count(":")


def _c_types(kind: str) -> list[Any]:
    dtype, dimensions = _taken_apart(kind)
    return [c_void_p] + [c_int64] * dimensions if dimensions else [_NUMBERS[dtype]]


def _as_c(argument: Any) -> tuple[Any, ...]:
    if isinstance(argument, np.ndarray):
        return (argument.ctypes.data, *argument.shape)
    return (argument,)


def compile_loops(told: Told | None = None) -> None:
    """
    Have every loop compiled, so that no later call waits for it.

    Parameters
    ----------
    told : callable, optional
        Is told how many are done, and of how many. Not called if all were there.

    Notes
    -----
    Takes some ten seconds on a machine that has not done it yet. Whoever calls a loop
    before that waits as long, once. What was compiled is kept beside the package, where
    Python keeps its own, or else in the account's cache folder.
    """
    global _engine  # noqa: PLW0603 - one for the process
    with _lock:
        if _engine is None:
            _engine = _started(kept_code() or _made(told))


def _running() -> Any:
    compile_loops()
    return _engine


def _optimise(module: Any) -> None:
    """
    Inline all parts, drop what nobody calls, and make statements side by side one.

    The last is left out by Numba. It changes no bit: each lane of a vector is rounded
    as it would be alone.
    """
    tuning = llvm.create_pipeline_tuning_options(speed_level=3)
    tuning.slp_vectorization = tuning.loop_vectorization = True
    builder = llvm.create_pass_builder(this_machine(), tuning)
    builder.getModulePassManager().run(module, builder)


def _started(code: bytes) -> Any:
    for name, address in _FROM_OUTSIDE.items():
        llvm.add_symbol(name, address)
    machine = this_machine()
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), machine)
    while code:
        length = int.from_bytes(code[:_LENGTH_BYTES])
        one, code = code[_LENGTH_BYTES:][:length], code[_LENGTH_BYTES + length :]
        engine.add_object_file(llvm.ObjectFileRef.from_data(one))
    engine.finalize_object()
    return engine


def _made(told: Told | None) -> bytes:
    """
    Let other processes compile all loops, and keep what they made where it can be kept.

    This one so never loads the compiler, which would stay in its memory.
    """
    with ExitStack() as opened:
        root = writable_root() or Path(opened.enter_context(passing_folder("loops")))
        compilers = [
            opened.enter_context(_Compiler()) for _ in range(threads_at_most(2))
        ]
        code = b"".join(
            len(it).to_bytes(_LENGTH_BYTES) + it for it in _shared(compilers, told)
        )
        target = root / code_name()
        part = part_path(target)
        opened.callback(part.unlink, missing_ok=True)
        part.write_bytes(sealed(code))
        part.chmod(0o644)
        part.replace(target)
    return code


def _shared(compilers: list[_Compiler], told: Told | None) -> list[bytes]:
    """Machine code of all loops: whoever has compiled one takes the next."""
    names = list(_entries())
    waiting, done = deque(names), 0
    told_one_by_one = Lock()

    def work(compiler: _Compiler) -> bytes:
        nonlocal done
        with suppress(IndexError):
            while True:
                compiler.compile(waiting.popleft())
                with told_one_by_one:
                    done += 1
                    if told is not None:
                        told(done, len(names))
        return compiler.finished()

    with ThreadPoolExecutor(len(compilers)) as pool:
        try:
            return list(pool.map(work, compilers))
        finally:
            waiting.clear()


class _Compiler:
    """A process that compiles the loops that it is told to; it ends with this one."""

    def __init__(self) -> None:
        settings = {it: of for it, of in os.environ.items() if it not in _SETTINGS}
        # What Numba would make quick, is made so when all parts are together.
        self._process = subprocess.Popen(  # noqa: S603 - this Python, with our own words
            [sys.executable, "-c", _BEGIN, *sys.path],
            env=settings | {"NUMBA_OPT": "0"},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        # Both are pipes, as was asked for.
        self._told = cast("BinaryIO", self._process.stdin)
        self._answers = cast("BinaryIO", self._process.stdout)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        with suppress(OSError):  # it may have ended before
            self._process.communicate()

    def compile(self, name: str) -> None:
        """Compile one; raises `RenderError` if it cannot."""
        with suppress(OSError):
            self._told.write(f"{name}\n".encode())
            self._told.flush()
            if self._answers.readline():
                return
        raise _not_compiled()

    def finished(self) -> bytes:
        """Machine code of all that it was told; raises `RenderError` without any."""
        code, _ = self._process.communicate()
        if self._process.returncode != 0 or not code:
            raise _not_compiled()
        return code


def _not_compiled() -> RenderError:
    return RenderError(
        "The loops over pixels could not be compiled on this machine.",
        remedy="Install printplan again into a new environment; what the compiler said "
        "stands above.",
    )


_BEGIN = """\
import sys
sys.path[:] = sys.argv[1:]
from printplan.loops.machine_code import compile_told
compile_told(sys.stdin.buffer, sys.stdout.buffer)
"""

_SETTINGS: Final = ("NUMBA_DISABLE_JIT", "NUMBA_DEBUG", "NUMBA_BOUNDSCHECK")
"""Settings of Numba that would make other code of the same loops."""


def compile_told(names: BinaryIO, answers: BinaryIO) -> None:
    """
    Compile loops for this machine as they are told, until nothing more is.

    Parameters
    ----------
    names : binary file
        Gives their names, one in a line.
    answers : binary file
        Takes an empty line for each that is done, and in the end the machine code.
    """
    entries, modules = _entries(), _modules()
    compile_part = import_module("numba").njit(**_OPTIONS)
    # Loops find their parts by name, wherever those were imported to.
    for part in _parts_of_loops:
        compiled = compile_part(part)
        for module in modules:
            if vars(module).get(part.__name__) is part:
                setattr(module, part.__name__, compiled)
    whole = llvm.parse_assembly("")
    for name in names:
        module = entries[name.decode().strip()].compiled()
        whole.triple, whole.data_layout = module.triple, str(module.data_layout)
        whole.link_in(module)
        answers.write(b"\n")
        answers.flush()
    answers.write(this_machine().emit_object(whole))


def _modules() -> list[ModuleType]:
    names = [it.name for it in iter_modules([str(Path(__file__).parent)])]
    return [import_module(f"{__package__}.{name}") for name in names]


def _entries() -> dict[str, _Entry]:
    """Every loop of the package, for each set of its types."""
    _modules()
    return {it.name: it for each in _loops for it in each.entries.values()}
