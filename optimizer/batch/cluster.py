"""The workers of a Dask cluster that is already there."""

from __future__ import annotations

import logging
from concurrent.futures import CancelledError, Future
from importlib.util import find_spec
from urllib.parse import urlsplit

from optimizer.batch.cases import Case
from optimizer.batch.solve_case import solve_case
from optimizer.batch.workers import WorkerDiedError
from optimizer.errors import InputError, InputIssue, quoted

SCHEMES = ("tcp", "tls")
CONNECT_S = 10
"""How long the scheduler may take to answer [s]."""

NO_LIMIT = 1_000_000
"""Cases that a scheduler takes at once [1]."""


def cluster_issues(address: str) -> list[InputIssue]:
    """Find what is wrong with the address of a scheduler, or here, before any work begins.

    Parameters
    ----------
    address : str
        The address.

    Returns
    -------
    list of InputIssue
        Empty where it may be tried.
    """
    issues = []
    if not _is_address(address):
        rule = "is not the address of a scheduler"
        issues.append(InputIssue("--scheduler", "", rule, quoted(address), "tcp://192.168.1.20:8786"))
    if find_spec("distributed") is None:
        fix = "pip install '.[cluster]' in the copy you installed from"
        issues.append(InputIssue("--scheduler", "", "Dask is not installed here", "", fix))
    return issues


def _is_address(address: str) -> bool:
    try:
        parts = urlsplit(address)
        return parts.scheme in SCHEMES and bool(parts.hostname) and bool(parts.port)
    except ValueError:
        return False


class Cluster:
    """The workers of a cluster; each must have this version of the tool.

    The scheduler gives the case of a dead worker to another, and gives up after several.

    Parameters
    ----------
    address : str
        Address of its scheduler, ``tcp://host:port``, in which `cluster_faults` finds none.

    Raises
    ------
    InputError
        No scheduler answers, or it has no workers.
    """

    tries = 1
    obituary = "the cluster lost it: its workers died one after the other, or the scheduler did"
    places = NO_LIMIT

    def __init__(self, address: str) -> None:
        from distributed import Client, KilledWorker

        # What it would log, with tracebacks, is said in the rows of the cases that are lost.
        for name in ("distributed", "distributed.client"):
            logging.getLogger(name).setLevel(logging.CRITICAL)
        try:
            self._client = Client(address, timeout=CONNECT_S, set_as_default=False)
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
        """Give it a case.

        Parameters
        ----------
        case : Case
            The case.

        Returns
        -------
        Future
            Its answer to come.
        """
        future: Future[str] = self._executor.submit(solve_case, case)
        return future

    def answer(self, ended: Future[str]) -> str:
        """Take the answer of a future that has ended.

        Parameters
        ----------
        ended : Future
            The future.

        Returns
        -------
        str
            The answer.

        Raises
        ------
        WorkerDiedError
            Several workers died over it, or the scheduler is gone.
        """
        try:
            return ended.result()
        except self._died as error:
            raise WorkerDiedError from error

    def stop(self, *, at_once: bool) -> None:
        """Leave the cluster.

        Parameters
        ----------
        at_once : bool
            Whether cases under work are given up.
        """
        self._executor.shutdown(wait=not at_once)
        self._client.close()
