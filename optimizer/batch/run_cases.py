"""Many cases: each distinct one planned once, finished ones cached, a dead worker's case given out again."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import Future
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from optimizer.batch import workers as worker
from optimizer.batch.answer import CaseResult, failed_answer, one_line, read_answer
from optimizer.batch.cache import AnswerCache
from optimizer.batch.cases import Case
from optimizer.batch.cluster import Cluster, cluster_issues
from optimizer.batch.workers import (
    ThisProcess,
    WorkerDiedError,
    WorkerProcesses,
    Workers,
    processors,
)
from optimizer.errors import InputError, InputIssue
from optimizer.interrupts import first_ended, interrupts_held


@dataclass(frozen=True)
class WorkerSettings:
    """Who does the work, and where finished work is kept.

    Attributes
    ----------
    jobs : int or None
        Worker processes [1]; as many as there are processors where left out, none where it is 0: then
        this process solves the cases itself.
    scheduler : str or None
        Address of a Dask scheduler to use instead.
    cache : Path or None
        Folder of finished cases.
    connect_s : float
        How long to try to reach the scheduler, above 0 [s].
    """

    jobs: int | None = None
    scheduler: str | None = None
    cache: Path | None = None
    connect_s: float = 10.0

    def issues(self) -> list[InputIssue]:
        """Find what can be known to be wrong before any work begins."""
        if self.scheduler is None:
            return []
        found = cluster_issues(self.scheduler)
        if self.jobs is not None:
            rule = "is for worker processes here, but --scheduler gives the work to a cluster"
            found.append(InputIssue("--jobs", "", rule, str(self.jobs), "one of the two"))
        return found


@dataclass(frozen=True)
class Progress:
    """How far a study is; equal cases count once.

    Attributes
    ----------
    cases, finished, found : int
        Cases in all, finished ones, and of these the ones found in the cache [1].
    """

    cases: int
    finished: int
    found: int


@dataclass(frozen=True)
class Study:
    """What a study came to.

    Attributes
    ----------
    results : tuple of CaseResult or None
        One a case, in the order of the cases; None where it was interrupted before.
    progress : Progress
        How far it came.
    interrupted : bool
        Whether it was stopped by Ctrl-C.
    not_cached : tuple of InputIssue
        Why an answer could not be kept in the cache, if one could not.
    refused : tuple of InputIssue
        Entries of the cache that were not used.
    """

    results: tuple[CaseResult | None, ...]
    progress: Progress
    interrupted: bool
    not_cached: tuple[InputIssue, ...] = ()
    refused: tuple[InputIssue, ...] = ()


def run_cases(
    cases: Sequence[Case], settings: WorkerSettings, report: Callable[[Progress], None] = lambda _: None
) -> Study:
    """Answer every case; equal ones are planned once.

    The answers do not depend on who gives them: worker processes, few or many, a cluster, or the cache.
    `InputError` where the cluster does not answer or the cache's folder cannot be used.
    """
    cache = AnswerCache(settings.cache) if settings.cache else None
    distinct = {case.key: case for case in cases}
    texts: dict[str, str] = {}
    found, interrupted, not_cached = 0, False, tuple[InputIssue, ...]()
    try:
        if cache is not None:
            texts |= {case.key: text for case in distinct.values() if (text := cache.find(case)) is not None}
        found = len(texts)
        report(Progress(len(distinct), found, found))
        todo = [case for key, case in distinct.items() if key not in texts]
        with closing(_answered(settings, todo)) as answers:
            for case, text in answers:
                with interrupts_held():
                    texts[case.key] = text
                    if cache is not None and not not_cached:
                        not_cached = _put(cache, case, text)
                report(Progress(len(distinct), len(texts), found))
    except KeyboardInterrupt:
        interrupted = True
    results = tuple(read_answer(texts[case.key], case) if case.key in texts else None for case in cases)
    refused = tuple(cache.refused) if cache is not None else ()
    return Study(results, Progress(len(distinct), len(texts), found), interrupted, not_cached, refused)


def _put(cache: AnswerCache, case: Case, text: str) -> tuple[InputIssue, ...]:
    """Keep an answer; a disk that fails is no reason to lose the study."""
    try:
        cache.put(text, case)
    except InputError as error:
        return error.issues
    return ()


def _answered(settings: WorkerSettings, cases: Sequence[Case]) -> Generator[tuple[Case, str], None, None]:
    """Give the cases out and yield each with its answer as it comes."""
    if not cases:
        return
    waiting, given_out, deaths = deque(cases), dict[Future[str], Case](), Counter[str]()
    with _workers(settings, len(cases)) as workers:
        while waiting or given_out:
            while waiting and len(given_out) < workers.most_at_once:
                case = waiting.popleft()
                given_out[workers.submit(case)] = case
            for future in first_ended(given_out):
                case = given_out.pop(future)
                try:
                    text = _sound(workers.answer(future), case)
                except WorkerDiedError:
                    deaths[case.key] += 1
                    if deaths[case.key] < workers.tries:
                        waiting.append(case)
                        continue
                    text = failed_answer(case.key, workers.lost_case_message)
                except Exception as error:
                    text = failed_answer(case.key, f"the worker could not take it: {one_line(error)}")
                yield case, text


@contextmanager
def _workers(settings: WorkerSettings, most: int) -> Iterator[Workers]:
    workers: Workers
    if settings.scheduler is not None:
        workers = Cluster(settings.scheduler, settings.connect_s)
    elif settings.jobs == 0:
        workers = ThisProcess()
    else:
        workers = WorkerProcesses(min(settings.jobs or processors(), most), worker.solve_case)
    try:
        yield workers
    except BaseException:
        workers.stop(at_once=True)
        raise
    workers.stop(at_once=False)


def _sound(text: str, case: Case) -> str:
    """The text, or a failure where it does not answer the case: nothing a worker sends is trusted."""
    try:
        read_answer(text, case)
    except InputError as error:
        return failed_answer(case.key, f"the worker sent no answer to this case: {error.issues[0].rule}")
    return text
