"""Rehearsals on other computers: a Dask cluster, spoken to as to any executor. Needs the extra `cluster`."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from typing import Any

from probewright import __version__
from probewright.errors import complaint

WAIT = 15.0  # s, chosen: a scheduler that has not answered by then, or has no worker by then, is not there
# One thread of linear algebra in each process: the cores are shared by rehearsals, and sums come out alike everywhere.
ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


@contextmanager
def cluster_at(address: str, wait: float = WAIT) -> Iterator[Executor]:
    """The workers of the cluster whose scheduler is at this address (tcp://HOST:PORT); wait: s until it is given up.

    BadInput where the extra is missing, nobody answers, or its workers are not as ours: another version, or linear
    algebra on several threads, which would give other last digits.
    """
    try:
        from distributed import Client
    except ImportError as problem:
        raise complaint(
            "--cluster needs what the extra `cluster` brings, and it is not installed",
            "install it, for example: pip install 'probewright[cluster]'; or leave --cluster out",
        ) from problem
    try:
        # Asked before there is a client: one that never connects waits for itself when it is thrown away.
        asyncio.run(asyncio.wait_for(_who_is_there(address, wait), wait))
        client = Client(address, timeout=wait, set_as_default=False)
    except (OSError, ValueError, MemoryError) as problem:  # a stranger's answer may read as a huge length
        raise complaint(
            f"no scheduler answers at {address!r} within {wait:g} s",
            "start one with `dask scheduler` and name the address it prints, for example tcp://192.168.1.5:8786",
        ) from problem
    with client:
        _look_at_workers(client, address, wait)
        yield client.get_executor(pure=False)


async def _who_is_there(address: str, wait: float) -> None:
    """OSError, ValueError or MemoryError where this is no address, nobody answers, or who does is no scheduler."""
    from distributed import rpc

    async with rpc(address, timeout=wait) as there:
        if (await there.identity())["type"] != "Scheduler":
            raise ValueError(f"{address} is not a scheduler")


def _look_at_workers(client: Any, address: str, wait: float) -> None:
    """Somebody is there, and all are as we are."""
    try:
        client.wait_for_workers(1, timeout=wait)
    except TimeoutError as problem:
        raise complaint(
            f"the scheduler at {address!r} has no workers", f"start some with `dask worker {address}`"
        ) from problem
    try:
        told = client.run(_about_me)
    except ImportError as problem:
        raise complaint(
            "a worker has no probewright", f"install probewright {__version__} on every worker"
        ) from problem
    for worker, (version, threads) in told.items():
        if version != __version__:
            wrong = f"the worker {worker} has probewright {version}, this is {__version__}"
            raise complaint(wrong, "install the same on every worker")
        if threads != ["1"] * len(ONE_THREAD):
            wrong = f"the worker {worker} does linear algebra on several threads, so its figures may differ"
            raise complaint(wrong, f"start it with {' '.join(f'{name}=1' for name in ONE_THREAD)}")


def _about_me() -> tuple[str, list[str | None]]:
    """What a worker is: its version, and its threads of linear algebra."""
    return __version__, [os.environ.get(name) for name in ONE_THREAD]
