"""Where is machine code kept, for which machine, and when is it not trusted?"""

from __future__ import annotations

import hashlib
import os
import sys
from contextlib import suppress
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

import llvmlite.binding as llvm
import platformdirs

from printplan.own_folders import own_folder, unsealed

if TYPE_CHECKING:
    from collections.abc import Iterator


def this_machine() -> Any:
    """
    The processor of this machine, or the one that Numba is told to write for.

    Returns
    -------
    llvmlite.binding.TargetMachine
    """
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    name, features = _processor()
    return llvm.Target.from_default_triple().create_target_machine(
        cpu=name, features=features, opt=3, jit=True, codemodel="jitdefault"
    )


def _processor() -> tuple[str, str]:
    name = os.environ.get("NUMBA_CPU_NAME", "") or llvm.get_host_cpu_name()
    features = os.environ.get("NUMBA_CPU_FEATURES")
    if features is None:
        generic = "NUMBA_CPU_NAME" in os.environ
        features = "" if generic else llvm.get_host_cpu_features().flatten()
    return name, features


def kept_code() -> bytes | None:
    """The machine code of this package for this machine, if it is there and whole."""
    name = code_name()
    for root in _roots():
        with suppress(OSError):
            path = root / name
            if _is_own(path) and (code := unsealed(path.read_bytes())) is not None:
                return code
    return None


def _is_own(path: Path) -> bool:
    """Whether nobody but this account and the system's can have written a file."""
    if not hasattr(os, "getuid"):
        return True
    told = path.stat()
    return told.st_uid in {os.getuid(), 0} and not told.st_mode & 0o022


def writable_root() -> Path | None:
    """The folder where it can be kept; None if there is none."""
    for root in _roots():
        with suppress(OSError):
            root.mkdir(parents=True, exist_ok=True)
            if os.access(root, os.W_OK | os.X_OK):
                return root
    return None


def _roots() -> Iterator[Path]:
    """Beside the package, as Python keeps its own; else in the account's cache."""
    if not sys.dont_write_bytecode:
        yield Path(__file__).parent / "__pycache__"
    yield own_folder(platformdirs.user_cache_path)


def code_name() -> str:
    """A name that tells all that the machine code depends on."""
    told = [version(it) for it in ("numba", "llvmlite", "numpy")]
    told += [sys.version, llvm.get_default_triple(), *_processor()]
    told += [
        hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(Path(__file__).parent.glob("*.py"))
    ]
    digest = hashlib.sha256("\n".join(told).encode()).hexdigest()
    return f"loops-{digest[:24]}.o"
