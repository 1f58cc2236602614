"""Cases that are long and have a quicker one of their kind beside them: marked slow, and run by `.ci/run`."""

from __future__ import annotations

from pathlib import Path

LONG_CASES = frozenset(Path(__file__).with_suffix(".txt").read_text(encoding="utf-8").splitlines())
"""By file, and as pytest names them."""

LONG_FIXTURES = frozenset(
    {
        "test_batch_cluster.py::compared",
        "test_batch_compare.py::compared",
        "test_planner_steam.py::planned",
        "test_planner_trim.py::unhurried",
        "test_whatif_explain.py::found",
        "test_whatif_frontier.py::found",
        "test_whatif_upgrades.py::all_of_them",
        "test_whatif_upgrades.py::found",
        "test_whatif_upgrades.py::from_nothing",
    }
)
"""By file: what takes long to make, so that every test that needs it is a long one."""
