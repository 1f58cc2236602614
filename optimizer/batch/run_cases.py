"""Many cases: each distinct one planned once, finished ones kept, a dead worker's case given out again."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, wait
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from optimizer.batch.answer import Result, failed_answer, one_line, read_answer
from optimizer.batch.cache import AnswerCache
from optimizer.batch.cases import Case
from optimizer.batch.cluster import Cluster, cluster_issues
from optimizer.batch.workers import WorkerDiedError, WorkerProcesses, Workers, interrupts_held, processors
from optimizer.errors import InputError, InputIssue


@dataclass(frozen=True)
class WorkerSettings:
    """Who does the work, and where finished work is kept.

    Attributes
    ----------
    jobs : int or None
        Worker processes [1]; as many as there are processors where left out.
    scheduler : str or None
        Address of a Dask scheduler to use instead.
    cache : Path or None
        Folder of finished cases.
    """

    jobs: int | None = None
    scheduler: str | None = None
    cache: Path | None = None

    def issues(self) -> list[InputIssue]:
        """Find what can be known to be wrong before any work begins.

        Returns
        -------
        list of InputIssue
            Empty where nothing is.
        """
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
    results : tuple of Result or None
        One a case, in the order of the cases; None where it was interrupted before.
    progress : Progress
        How far it came.
    interrupted : bool
        Whether it was stopped by Ctrl-C.
    unkept : tuple of InputIssue
        Why an answer could not be kept in the cache, if one could not.
    """

    results: tuple[Result | None, ...]
    progress: Progress
    interrupted: bool
    unkept: tuple[InputIssue, ...] = ()


def run_cases(
    cases: Sequence[Case], hands: WorkerSettings, tell: Callable[[Progress], None] = lambda _: None
) -> Study:
    """Answer every case.

    The answers do not depend on who gives them: worker processes, few or many, a cluster, or the cache.

    Parameters
    ----------
    cases : sequence of Case
        The cases. Equal ones are planned once.
    hands : WorkerSettings
        Who does the work.
    tell : callable
        Told how far it is.

    Returns
    -------
    Study
        The results; those finished so far where Ctrl-C was pressed.

    Raises
    ------
    InputError
        The cluster does not answer, or the cache's folder cannot be used.
    """
    keep = AnswerCache(hands.cache) if hands.cache else None
    distinct = {case.key: case for case in cases}
    texts: dict[str, str] = {}
    found, interrupted, unkept = 0, False, tuple[InputIssue, ...]()
    try:
        if keep is not None:
            texts |= {case.key: text for case in distinct.values() if (text := keep.find(case)) is not None}
        found = len(texts)
        tell(Progress(len(distinct), found, found))
        todo = [case for key, case in distinct.items() if key not in texts]
        with closing(_answered(hands, todo)) as answers:
            for case, text in answers:
                with interrupts_held():
                    texts[case.key] = text
                    if keep is not None and not unkept:
                        unkept = _put(keep, case, text)
                tell(Progress(len(distinct), len(texts), found))
    except KeyboardInterrupt:
        interrupted = True
    results = [read_answer(texts[case.key], case) if case.key in texts else None for case in cases]
    return Study(tuple(results), Progress(len(distinct), len(texts), found), interrupted, unkept)


def _put(keep: AnswerCache, case: Case, text: str) -> tuple[InputIssue, ...]:
    """Keep an answer; a disk that fails is no reason to lose the study."""
    try:
        keep.put(text, case)
    except InputError as error:
        return error.issues
    return ()


def _answered(hands: WorkerSettings, cases: Sequence[Case]) -> Generator[tuple[Case, str], None, None]:
    """Give the cases out and yield each with its answer as it comes."""
    if not cases:
        return
    waiting, under_work, deaths = deque(cases), dict[Future[str], Case](), Counter[str]()
    with _crew(hands, len(cases)) as crew:
        while waiting or under_work:
            while waiting and len(under_work) < crew.places:
                case = waiting.popleft()
                under_work[crew.submit(case)] = case
            for future in wait(under_work, return_when=FIRST_COMPLETED).done:
                case = under_work.pop(future)
                try:
                    text = _sound(crew.answer(future), case)
                except WorkerDiedError:
                    deaths[case.key] += 1
                    if deaths[case.key] < crew.tries:
                        waiting.append(case)
                        continue
                    text = failed_answer(case.key, crew.obituary)
                except Exception as error:
                    text = failed_answer(case.key, f"the worker could not take it: {one_line(error)}")
                yield case, text


@contextmanager
def _crew(hands: WorkerSettings, most: int) -> Iterator[Workers]:
    crew: Workers
    if hands.scheduler is not None:
        crew = Cluster(hands.scheduler)
    else:
        crew = WorkerProcesses(min(hands.jobs or processors(), most))
    try:
        yield crew
    except BaseException:
        crew.stop(at_once=True)
        raise
    crew.stop(at_once=False)


def _sound(text: str, case: Case) -> str:
    """The text, or a failure where it does not answer the case: nothing a worker sends is trusted."""
    try:
        read_answer(text, case)
    except InputError as error:
        return failed_answer(case.key, f"the worker sent no answer to this case: {error.issues[0].rule}")
    return text
