"""Rows and variables of the integer model, and the requirement that each row stands for."""

from __future__ import annotations

from collections.abc import Iterable

import pulp

from optimizer.planner.model_terms import Term, expression
from optimizer.planner.objective import Objective


class Rows:
    """A PuLP problem to which rows are added.

    ``keys`` gives the requirement of a row, by the order in which the rows were added.
    """

    def __init__(self, objective: Objective) -> None:
        self.objective = objective
        self.problem = pulp.LpProblem("programme", pulp.LpMinimize)
        self.keys: dict[int, str] = {}

    def var(self, name: str, low: float | None = 0.0, high: float | None = None) -> pulp.LpVariable:
        """Make a continuous variable, without bounds where they are None."""
        return pulp.LpVariable(name, lowBound=low, upBound=high)

    def at_most(self, terms: Iterable[Term], right: float = 0.0) -> None:
        """Add a row: a sum of terms, at most ``right``."""
        self.problem += expression(terms) <= right

    def at_least(self, terms: Iterable[Term], right: float = 0.0) -> None:
        """Add a row: a sum of terms, at least ``right``."""
        self.problem += expression(terms) >= right

    def equal(self, terms: Iterable[Term], right: float = 0.0) -> None:
        """Add a row: a sum of terms, equal to ``right``."""
        self.problem += expression(terms) == right

    def kept(self, key: str) -> bool:
        """Whether a requirement has its rows: it is neither left out nor what is aimed at."""
        return key not in self.objective.drop and key != self.objective.aim

    def mark(self, key: str) -> None:
        """Note that the next row is that of a requirement."""
        self.keys[len(self.problem.constraints)] = key
