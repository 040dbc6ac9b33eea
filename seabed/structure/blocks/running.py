"""Work through chunks: in processes of this machine, or on a cluster."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    Future,
    ProcessPoolExecutor,
    ThreadPoolExecutor,
    wait,
)
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from functools import partial
from importlib import import_module
from multiprocessing import get_context, parent_process
from threading import Thread
from typing import Any, Final

from seabed.errors import SeabedError
from seabed.structure.blocks.kind import Kinds, worked
from seabed.structure.blocks.store import Store
from seabed.structure.blocks.whole import Chunk, Whole

Done = Callable[[int, int], None]
"""Called with how many chunks are done, and of how many."""

MOST_JOBS: Final = 4
"""Processes started by default: each takes some 300 MB."""

CONNECT_S: Final = 15


def run_chunks(
    whole: Whole,
    kinds: Kinds,
    store: Store,
    *,
    jobs: int | None = None,
    scheduler: str | None = None,
    done: Done = lambda finished, whole: None,
) -> None:
    """Work through every chunk that the store does not have yet.

    whole: sent to other processes: its blocks must hold no open file.
    jobs: processes on this machine; by default as many as it has cores, at most `MOST_JOBS`.  With
        1 the work is done here.
    scheduler: address of a dask.distributed scheduler whose workers do it instead.  They must have
        this package, and see the grid's file under the same name.
    done: called at the start and after each chunk.
    """
    chunks = whole.chunks
    todo = [chunk for chunk in chunks if not store.has(chunk)]
    finished = len(chunks) - len(todo)
    done(finished, len(chunks))
    if not todo:
        return
    if scheduler is not None:
        parts = _on_cluster(whole, kinds, store, todo, scheduler)
    elif (jobs or _usual_jobs()) == 1 or len(todo) == 1:
        parts = _here(whole, kinds, store, todo)
    else:
        parts = _in_processes(whole, kinds, store, todo, jobs or _usual_jobs())
    for _ in parts:
        finished += 1
        done(finished, len(chunks))


def _usual_jobs() -> int:
    return min(os.cpu_count() or 1, MOST_JOBS)


def _kept(whole: Whole, kinds: Kinds, store: Store, chunk: Chunk) -> Chunk:
    store.put(chunk, worked(whole, kinds, chunk))
    return chunk


def _here(whole: Whole, kinds: Kinds, store: Store, todo: Sequence[Chunk]) -> Iterator[Chunk]:
    for chunk in todo:
        yield _kept(whole, kinds, store, chunk)


def _in_processes(
    whole: Whole, kinds: Kinds, store: Store, todo: Sequence[Chunk], jobs: int
) -> Iterator[Chunk]:
    work = partial(_kept, whole, kinds, store)
    # fresh processes on every system: forked ones would share locks of libraries
    pool = ProcessPoolExecutor(
        min(jobs, len(todo)), mp_context=get_context("spawn"), initializer=_attend
    )
    try:
        running: set[Future[Chunk]] = set()
        ahead = iter(todo)
        for chunk in ahead:
            with _interrupts_held():  # which the processes begun here inherit
                running.add(pool.submit(work, chunk))
            if len(running) < 2 * jobs:
                continue
            ready, running = wait(running, return_when=FIRST_COMPLETED)
            yield from (future.result() for future in ready)
        while running:
            ready, running = wait(running, return_when=FIRST_COMPLETED)
            yield from (future.result() for future in ready)
    except BrokenProcessPool as error:
        raise SeabedError(
            "a process that worked on the grid ended: perhaps memory ran out",
            do="Do the same again: it goes on from the finished chunks. Fewer {jobs} or "
            "a smaller {chunk} take less memory.",
        ) from error
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Hold a Ctrl-C for this process until the end: one that loads would print where it was."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _attend() -> None:
    """Let a process end its chunk when work is broken off, and go when its parent is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # where the system can't hold interrupts
    parent = parent_process()
    if parent is not None:
        Thread(target=_leave_after, args=(parent,), daemon=True).start()


def _leave_after(parent: Any) -> None:
    parent.join()
    os._exit(1)


def _on_cluster(
    whole: Whole, kinds: Kinds, store: Store, todo: Sequence[Chunk], scheduler: str
) -> Iterator[Chunk]:
    with _cluster(scheduler) as (cluster, client):
        # a worker that dies loses its results; the scheduler has others do them again
        futures = {
            client.submit(worked, whole, kinds, chunk, pure=False, retries=2): chunk
            for chunk in todo
        }
        for future in cluster.as_completed(list(futures), loop=client.loop):
            try:
                arrays = future.result()
            except cluster.KilledWorker as error:
                raise SeabedError(
                    "one chunk ended several workers of the cluster: perhaps memory ran out",
                    key="scheduler",
                    do="Do the same again: it goes on from the finished chunks. A "
                    "smaller {chunk} takes less memory.",
                ) from error
            store.put(futures[future], arrays)
            future.release()
            yield futures[future]


def check_cluster(address: str) -> None:
    """Refuse an address that is no scheduler's, before anything is written or worked out.

    A client that can't connect goes on trying and complains once more when it is forgotten: the
    address is tried without one.
    """
    cluster = _distributed()

    async def tried() -> None:
        how = cluster.Security().get_connection_args("client")
        channel = await cluster.comm.connect(address, timeout=CONNECT_S, **how)
        await channel.close()

    try:
        with ThreadPoolExecutor(1) as apart:  # the caller, a notebook say, may run a loop itself
            apart.submit(asyncio.run, tried()).result()
    except (OSError, ValueError, TimeoutError) as error:
        raise _no_answer(address) from error


def _distributed() -> Any:
    try:
        return import_module("distributed")
    except ImportError as error:
        raise SeabedError(
            "work on a cluster needs the package distributed",
            key="scheduler",
            do='Install it: pip install "distributed>=2024.8"',
        ) from error


def _no_answer(address: str) -> SeabedError:
    return SeabedError(
        f"no scheduler answers at {address!r}",
        key="scheduler",
        do="Start one with: dask scheduler. It prints its address: tcp://…:8786.",
    )


@contextmanager
def _cluster(address: str) -> Iterator[tuple[Any, Any]]:
    cluster = _distributed()
    try:
        client = cluster.Client(address, timeout=CONNECT_S, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise _no_answer(address) from error
    try:
        yield cluster, client
    finally:
        client.close()
