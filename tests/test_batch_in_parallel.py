"""Questions answered side by side: in their order, by as many processes as are asked for or by none."""

from __future__ import annotations

import math

import pytest

from optimizer.batch.in_parallel import side_by_side

TASKS = (9.0, 4.0, 25.0, 1.0, 16.0)


@pytest.mark.parametrize("jobs", [0, 1, 2])
def test_answers_come_in_the_order_of_the_tasks(jobs: int) -> None:
    with side_by_side(math.sqrt, jobs) as workers:
        assert list(workers.answers(TASKS)) == [3.0, 2.0, 5.0, 1.0, 4.0]
        assert list(workers.answers(TASKS[:2])) == [3.0, 2.0]
        assert list(workers.answers([])) == []


def test_what_a_task_raises_ends_the_work() -> None:
    with pytest.raises(ValueError, match="domain"), side_by_side(math.sqrt, 1) as workers:
        list(workers.answers([4.0, -1.0, 9.0]))
