"""What a worker does with a case, in a process of its own or on a cluster: a case in, text out."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading

from optimizer.batch.answer import failed_answer, one_line, proven_answer, refused_answer
from optimizer.batch.cases import Case, engine
from optimizer.errors import CheckFailedError, NoPlanError, ScullionError
from optimizer.prove import plan_and_prove

_ALONE = threading.Lock()
"""A worker of a cluster may have several threads, but a solver borrows standard output for itself."""


def solve_case(case: Case) -> str:
    """Plan and prove a case.

    Parameters
    ----------
    case : Case
        The case.

    Returns
    -------
    str
        The answer. A bug in the tool is an answer too, so that no case costs the others.
    """
    try:
        with _ALONE:
            return _answer(case)
    except Exception as error:
        return failed_answer(case.key, f"bug in scullion: {one_line(error)}")


def _answer(case: Case) -> str:
    here = engine(case.solver)
    if here != case.engine:
        return failed_answer(case.key, f"the worker has another version: {here}, not {case.engine}")
    try:
        proven = plan_and_prove(case.inputs, solver=case.solver)
    except (NoPlanError, CheckFailedError) as error:
        return refused_answer(case.key, error)
    except ScullionError as error:
        return failed_answer(case.key, *str(error).splitlines())
    return proven_answer(case.key, proven.plan, proven.certificate)


def follow_parent() -> None:
    """Leave Ctrl-C to the process that started this worker, and end when that ends, however it does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    assert parent is not None

    def watch() -> None:
        parent.join()
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
