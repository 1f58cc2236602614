"""A study on a real Dask cluster of two workers on this computer, one of them killed in the middle."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from calling import call
from conftest import Compared
from patience import PATIENCE_S, wait_for

from optimizer.batch.answer import read_answer
from optimizer.batch.cases import StudyRequest, read_cases
from optimizer.batch.cluster import cluster_issues
from optimizer.batch.run_cases import Progress, WorkerSettings, run_cases
from optimizer.batch.workers import solve_case
from optimizer.errors import InputError

distributed = pytest.importorskip("distributed")
dask = pytest.importorskip("dask")

ROOT = Path(__file__).resolve().parent.parent


class Local(NamedTuple):
    """A cluster: the scheduler's address and the workers by name."""

    address: str
    workers: dict[str, subprocess.Popen[bytes]]


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Local]:
    described = tmp_path / "scheduler.json"
    started: list[subprocess.Popen[bytes]] = []

    def start(what: str, *options: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", f"distributed.cli.dask_{what}", *options]
        command += ["--scheduler-file", str(described), "--host", "127.0.0.1", "--no-dashboard"]
        with (tmp_path / f"{what}{len(started)}.txt").open("wb") as output:
            process = subprocess.Popen(command, cwd=ROOT, stdout=output, stderr=subprocess.STDOUT)
        started.append(process)
        return process

    try:
        start("scheduler", "--port", "0")
        names = ("first", "second")
        workers = {name: start("worker", "--name", name, "--nthreads", "1", "--no-nanny") for name in names}
        address = wait_for_workers(described, len(names))
        yield Local(address, workers)
    finally:
        for process in started:
            process.kill()
            process.wait()


def wait_for_workers(described: Path, count: int) -> str:
    # It is there before all of it is written.
    wait_for(lambda: described.exists() and described.read_text(encoding="utf-8").rstrip().endswith("}"))
    address: str = json.loads(described.read_text(encoding="utf-8"))["address"]
    with distributed.Client(address, set_as_default=False) as client:
        client.wait_for_workers(count, timeout=PATIENCE_S)
    return address


def busy_worker(address: str) -> tuple[str, int]:
    """Give the name of a worker with cases on it, and how many these are."""
    with distributed.Client(address, set_as_default=False) as client:
        counts = {worker: len(keys) for worker, keys in client.processing().items()}
        busiest = max(counts, key=lambda worker: counts[worker])
        return client.scheduler_info()["workers"][busiest]["name"], counts[busiest]


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_cluster_gives_the_answers_of_this_process() -> None:
    cases = read_cases(StudyRequest(("cold-shed",), ("fresh-cups", "steamed-glasses")))
    with distributed.LocalCluster(
        n_workers=1,
        threads_per_worker=1,
        processes=False,
        protocol="tcp",
        host="127.0.0.1",
        dashboard_address=None,
    ) as local:
        study = run_cases(cases, WorkerSettings(scheduler=local.scheduler_address))
    found = [(one.status, one.why) for one in study.results if one is not None]
    alone = [read_answer(solve_case(case), case) for case in cases]
    assert found == [(one.status, one.why) for one in alone]
    assert [status for status, _ in found] == ["planned", "no plan"]


@pytest.mark.slow
def test_nothing_is_lost_or_doubled_when_a_worker_is_killed(
    cluster: Local, compared: Compared, tmp_path: Path
) -> None:
    told: list[Progress] = []
    killed: list[int] = []

    def tell(progress: Progress) -> None:
        told.append(progress)
        if progress.finished == 1:
            name, cases_on_it = busy_worker(cluster.address)
            os.kill(cluster.workers[name].pid, signal.SIGKILL)
            killed.append(cases_on_it)

    cases = read_cases(StudyRequest(("clubhouse", "cold-shed"), ("fresh-cups", "glasses")))
    study = run_cases(cases, WorkerSettings(scheduler=cluster.address, cache=tmp_path / "cache"), tell)
    assert len(killed) == 1
    assert killed[0] >= 1, "it had work when it was killed"
    assert told == [Progress(4, finished, 0) for finished in range(5)]
    results = [(result.status, result.why) for result in study.results if result is not None]
    assert [status for status, _ in results] == ["planned"] * 3 + ["no plan"], results
    kept, alone = (
        {p.name: p.read_bytes() for p in f.iterdir()} for f in (tmp_path / "cache", compared.cache)
    )
    assert kept == alone


def test_scheduler_that_is_not_there_is_bad_input() -> None:
    cases = read_cases(StudyRequest(("clubhouse",), ("glasses",)))
    with pytest.raises(InputError, match="no scheduler answers there"):
        run_cases(cases, WorkerSettings(scheduler="tcp://127.0.0.1:1", connect_s=1.0))


@pytest.mark.parametrize(
    "address", ["", "nowhere", "http://127.0.0.1:8786", "tcp://:8786", "tcp://host:port"]
)
def test_what_is_no_address_is_refused_unasked(address: str) -> None:
    assert [issue.rule for issue in cluster_issues(address)] == ["is not the address of a scheduler"]


@pytest.mark.parametrize(
    "settings", [{}, {"ca-file": "/no/such/file.pem", "client.cert": "/no/such/file.pem"}]
)
def test_tls_without_certificates_says_what_to_set(settings: dict[str, str]) -> None:
    with dask.config.set({f"distributed.comm.tls.{key}": value for key, value in settings.items()}):
        (issue,) = cluster_issues("tls://127.0.0.1:8786")
    assert "tls:// needs certificates" in issue.rule
    assert ("FileNotFoundError" in issue.rule) == bool(settings)
    assert "distributed.comm.tls.ca-file" in issue.fix


def test_tls_with_certificates_is_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "distributed.security.Security.get_connection_args", lambda *_: {"ssl_context": object()}
    )
    assert cluster_issues("tls://127.0.0.1:8786") == []


def test_help_says_where_a_plain_scheduler_may_be_used(capfd: pytest.CaptureFixture[str]) -> None:
    assert call("compare", "--help") == 0
    assert "network that you trust" in " ".join(capfd.readouterr().out.split())


def test_without_dask_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("optimizer.batch.cluster.find_spec", lambda _: None)
    assert ".[cluster]" in cluster_issues("tcp://127.0.0.1:8786")[0].fix
