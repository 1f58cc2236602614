"""The workers of a Dask cluster that is already there.

A Dask worker runs whatever it is sent. Over plain tcp:// anybody who reaches the scheduler can send it
something, and everything passes unencrypted: that is for a network one trusts. tls:// takes its certificates
from Dask's own settings.
"""

from __future__ import annotations

import logging
from concurrent.futures import CancelledError, Future
from importlib.util import find_spec
from urllib.parse import urlsplit

from optimizer.batch.answer import one_line
from optimizer.batch.cases import Case
from optimizer.batch.workers import WorkerDiedError, solve_case
from optimizer.errors import InputError, InputIssue, quoted

SCHEMES = ("tcp", "tls")
TLS_FIX = (
    "set distributed.comm.tls.ca-file, .client.cert and .client.key in Dask's settings; plain tcp:// is for "
    "a network that you trust"
)
NO_LIMIT = 1_000_000
"""Cases that a scheduler takes at once [1]."""


def cluster_issues(address: str) -> list[InputIssue]:
    """Find what is wrong with the address of a scheduler, or here, before any work begins."""
    issues = []
    scheme = _scheme(address)
    if scheme is None:
        rule = "is not the address of a scheduler"
        issues.append(InputIssue("--scheduler", "", rule, quoted(address), "tcp://192.168.1.20:8786"))
    if find_spec("distributed") is None:
        fix = "pip install '.[cluster]' in the copy you installed from"
        issues.append(InputIssue("--scheduler", "", "Dask is not installed here", "", fix))
    elif scheme == "tls":
        issues += _tls_issues(address)
    return issues


def _scheme(address: str) -> str | None:
    try:
        parts = urlsplit(address)
        return parts.scheme if parts.scheme in SCHEMES and parts.hostname and parts.port else None
    except ValueError:
        return None


def _tls_issues(address: str) -> list[InputIssue]:
    """Why Dask's settings do not allow tls://; without certificates its client would only raise an error."""
    from distributed.security import Security

    try:
        if Security().get_connection_args("client").get("ssl_context") is not None:
            return []
        rule = "tls:// needs certificates, and Dask's settings name none"
    except (OSError, ValueError) as error:  # a file of them is missing, or holds no certificate
        rule = f"tls:// needs certificates, and those of Dask's settings cannot be used ({one_line(error)})"
    return [InputIssue("--scheduler", "", rule, address, TLS_FIX)]


class Cluster:
    """The workers of a cluster; each must have this version of the tool.

    The scheduler gives the case of a dead worker to another, and gives up after several. `InputError` where
    no scheduler answers at the address, or it has no workers.
    """

    tries = 1
    lost_case_message = "the cluster lost it: its workers died one after the other, or the scheduler did"
    most_at_once = NO_LIMIT

    def __init__(self, address: str, connect_s: float) -> None:
        from distributed import Client, KilledWorker

        # What it would log, with tracebacks, is said in the rows of the cases that are lost.
        for name in ("distributed", "distributed.client"):
            logging.getLogger(name).setLevel(logging.CRITICAL)
        try:
            self._client = Client(address, timeout=connect_s, set_as_default=False)
        except OSError as error:
            fix = "start one: dask scheduler"
            raise InputError(
                [InputIssue("--scheduler", "", "no scheduler answers there", address, fix)]
            ) from error
        if not self._client.scheduler_info()["workers"]:
            self._client.close()
            fix = f"start some: dask worker {address} --nthreads 1"
            raise InputError([InputIssue("--scheduler", "", "it has no workers", address, fix)])
        self._executor = self._client.get_executor(pure=False)
        self._died = (KilledWorker, CancelledError)

    def submit(self, case: Case) -> Future[str]:
        """Give out a case."""
        future: Future[str] = self._executor.submit(solve_case, case)
        return future

    def answer(self, ended: Future[str]) -> str:
        """Take an answer; `WorkerDiedError` where several workers died over it, or the scheduler is gone."""
        try:
            return ended.result()
        except self._died as error:
            raise WorkerDiedError from error

    def stop(self, *, at_once: bool) -> None:
        """Leave the cluster; `at_once` gives up the cases it has."""
        self._executor.shutdown(wait=not at_once)
        self._client.close()
