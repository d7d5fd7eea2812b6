"""Rehearsals on a cluster come out as they do here; a cluster that is not there is said so, and soon."""

from __future__ import annotations

import socket
import sys
import threading
import time
from collections.abc import Iterator
from typing import Any

import pytest

from probewright import __version__
from probewright.errors import BadInput
from probewright.jobs import campaign, clusters
from probewright.jobs.rehearsing import Terms
from test_rehearse import SMALL

TERMS = Terms("afar", most=2, quick=True)


@pytest.fixture(scope="module")
def address(dask: None) -> Iterator[str]:
    """A scheduler with one worker of two threads in a process of its own."""
    from distributed import LocalCluster

    with LocalCluster(n_workers=1, threads_per_worker=2, processes=True, dashboard_address=":0") as cluster:
        yield cluster.scheduler_address


@pytest.mark.slow
def test_a_cluster_gives_the_same_view_as_this_computer(address: str) -> None:
    told: list[tuple[int, int]] = []
    afar = campaign.rehearse(SMALL, "small.yaml", TERMS, 3, told=lambda *one: told.append(one), cluster=address)
    assert afar == campaign.rehearse(SMALL, "small.yaml", TERMS, 3, processes=1)
    assert afar.n == 3 and told == [(0, 3), (1, 3), (2, 3), (3, 3)]


@pytest.mark.slow
def test_another_campaign_on_the_same_worker_is_another(address: str) -> None:
    other = Terms("elsewhere", most=1, sound=True)
    afar = campaign.rehearse(SMALL, "small.yaml", other, 1, cluster=address)
    assert afar == campaign.rehearse(SMALL, "small.yaml", other, 1, processes=1)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("what", "says", "mend"),
    [
        ((f"{__version__}.other", ["1", "1", "1"]), f"{__version__}.other, this is", "install the same"),
        ((__version__, ["1", None, "1"]), "several threads", "OPENBLAS_NUM_THREADS=1"),
    ],
)
def test_workers_that_are_not_as_we_are_are_refused(
    address: str, monkeypatch: pytest.MonkeyPatch, what: Any, says: str, mend: str
) -> None:
    from distributed import Client

    monkeypatch.setattr(Client, "run", lambda self, ask: {"tcp://worker": what})
    with pytest.raises(BadInput, match=says) as bad:
        campaign.rehearse(SMALL, "small.yaml", TERMS, 1, cluster=address)
    assert mend in bad.value.complaints[0].mend


@pytest.mark.slow
def test_workers_of_a_cluster_use_one_thread_for_linear_algebra(address: str) -> None:
    from distributed import Client

    with Client(address, set_as_default=False) as client:
        assert list(client.run(clusters._about_me).values()) == [(__version__, ["1", "1", "1"])]


@pytest.mark.slow
def test_where_nobody_answers_it_is_said_within_the_time(dask: None) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        nobody = f"tcp://127.0.0.1:{free.getsockname()[1]}"
    start = time.monotonic()
    with pytest.raises(BadInput, match="no scheduler answers") as bad, clusters.cluster_at(nobody, wait=1.0):
        pass
    assert time.monotonic() - start < 20.0
    assert "dask scheduler" in bad.value.complaints[0].mend


@pytest.mark.slow
@pytest.mark.parametrize("nonsense", ["nowhere", "http://127.0.0.1:1", "tcp://127.0.0.1:port"])
def test_what_is_no_address_is_refused(dask: None, nonsense: str) -> None:
    with pytest.raises(BadInput, match="no scheduler answers"), clusters.cluster_at(nonsense, wait=1.0):
        pass


@pytest.mark.slow
@pytest.mark.parametrize("says", [b"", b"HTTP/1.1 400 Bad Request\r\n\r\n" * 9])
def test_who_answers_and_is_no_scheduler_is_told_and_no_client_is_left(
    dask: None, monkeypatch: pytest.MonkeyPatch, says: bytes
) -> None:
    from distributed import Client

    def no_client(*_: object, **__: object) -> None:
        pytest.fail("a client that never connects waits for itself when it is thrown away")

    def answer() -> None:
        with stranger.accept()[0] as caller:
            caller.sendall(says)
            caller.recv(4096)

    monkeypatch.setattr(Client, "__init__", no_client)
    monkeypatch.setattr(Client, "__del__", lambda self: None)
    with socket.create_server(("127.0.0.1", 0)) as stranger:
        answering = threading.Thread(target=answer, daemon=True)
        answering.start()
        at = f"tcp://127.0.0.1:{stranger.getsockname()[1]}"
        with pytest.raises(BadInput, match="no scheduler answers"), clusters.cluster_at(at, wait=1.0):
            pass
        answering.join(10.0)


@pytest.mark.slow
def test_a_scheduler_without_workers_is_said_so(dask: None) -> None:
    from distributed import LocalCluster

    with LocalCluster(n_workers=0, processes=False, dashboard_address=":0", protocol="tcp") as empty:
        with pytest.raises(BadInput, match="no workers") as bad, clusters.cluster_at(empty.scheduler_address, wait=1.0):
            pass
    assert "dask worker" in bad.value.complaints[0].mend


def test_without_the_extra_it_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)  # as where it is not installed; its own rooms stay known
    with pytest.raises(BadInput, match="extra `cluster`") as bad:
        campaign.rehearse(SMALL, "small.yaml", TERMS, 1, cluster="tcp://127.0.0.1:8786")
    assert "probewright[cluster]" in bad.value.complaints[0].mend


def test_nothing_of_it_is_loaded_without_the_option() -> None:
    assert "distributed" not in vars(campaign) and "distributed" not in vars(clusters)
