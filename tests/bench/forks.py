"""Work in processes of their own, for the benches that try faults."""

from __future__ import annotations

import functools
import gc
import os
import resource

# The tests print to their own; this is what the person sees.
STDOUT = os.dup(1)
MEMORY_BYTES = 4 << 30


def tell(text):
    """Tell the person one line."""
    os.write(STDOUT, f"{text}\n".encode())


def forked(work, seconds):
    """Begin some work in a process that may not take for ever, nor all the memory."""
    child = os.fork()
    if child:
        return child
    status = 1
    try:
        # A fault may run for ever or ask for all the memory: that is noticed too.
        limit = int(10 + 3 * seconds)
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit))
        resource.setrlimit(resource.RLIMIT_DATA, (MEMORY_BYTES, MEMORY_BYTES))
        status = int(work())
    finally:
        os._exit(status)


def quiet(session):
    """Let a forked process tell nothing."""
    terminal = session.config.pluginmanager.get_plugin("terminalreporter")
    terminal._tw._file = open(os.devnull, "w")  # noqa: SIM115


def silent():
    """Let this process tell nothing, nor what it starts."""
    silence = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silence, 1)
    os.dup2(silence, 2)


def own_objects(kind):
    """All objects of a kind that belong to the code."""
    # What the tests' own settings have frozen would not be found.
    gc.unfreeze()
    return [
        one
        for one in gc.get_objects()
        if type(one) is kind and (one.__module__ or "").startswith("stopout.")
    ]


def clear(caches):
    """Forget what functions remember from before: a test runs their lines itself."""
    for one in caches:
        one.cache_clear()


def caches():
    """All functions of the code that remember."""
    return own_objects(functools._lru_cache_wrapper)
