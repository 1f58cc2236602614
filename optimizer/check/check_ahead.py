"""A check that the second process begins while steps from a plan are tried: it will probably be the plan."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.check.certificate import Certificate
from optimizer.check.certify import LeftOut, check
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants
from optimizer.second_process import Ahead, ahead


@dataclass(frozen=True)
class CheckAsked:
    """What `check` is asked."""

    constants: Constants
    machine: Machine
    goal: Goal
    circuit: Circuit
    leave_out: LeftOut

    def answer(self) -> Certificate:
        """The check's certificate."""
        return check(self.constants, self.machine, self.goal, self.circuit, leave_out=self.leave_out)


class ChecksAhead:
    """Checks, one of which may have begun before it is asked for; its certificate is the same."""

    def __init__(self) -> None:
        self._begun: tuple[CheckAsked, Ahead[Certificate]] | None = None

    def begin(self, asked: CheckAsked) -> None:
        """Have the second process begin, if it is not at work."""
        if self._begun is not None and self._begun[0] == asked:
            return
        self.end()
        begun = ahead(CheckAsked.answer, asked)
        self._begun = None if begun is None else (asked, begun)

    def certificate(self, asked: CheckAsked) -> Certificate:
        """Check, or wait for the check that has begun."""
        if self._begun is None or self._begun[0] != asked:
            return asked.answer()
        begun, self._begun = self._begun[1], None
        return begun.result()

    def end(self) -> None:
        """What has begun will not be asked for."""
        if self._begun is not None:
            self._begun[1].forget()
            self._begun = None
