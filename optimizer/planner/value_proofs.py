"""What a nearest value has to stand before it is named: the check of one programme, then a whole plan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from optimizer.errors import SolverError
from optimizer.planner.corners import NOTHING_KEPT, KeptBack
from optimizer.planner.margins import Assessor
from optimizer.planner.structure import Programme
from optimizer.planner.trim import nearest_point, trim
from optimizer.planner.trim_space import Space
from optimizer.planner.worst_corners import Finder, worst_corners
from optimizer.programme.plan import Inputs
from optimizer.second_process import Ahead, ahead

PLANS_MOST = 12
"""Most whole plans that are made for nearest values, and as many for what conflicts [1]; a shipped pair takes
up to 4."""

FAR_SHORT = 0.25
"""Share of a limit from which on a requirement that a check refused is far short [1]; one that a programme
misses at the worst points as well."""


@dataclass(frozen=True)
class Proof:
    """What a nearest value has to stand before it is named, beyond the corners of the planner.

    ``find`` searches worst points of the tolerances; ``refuses`` checks one programme and gives what it would
    have to keep back, nothing where it passes; ``proves`` says whether a whole plan for some inputs, from
    nothing, is found and passes the check. ``tell`` hears of each step.
    """

    find: Finder | None = None
    refuses: Callable[[Assessor, Programme], KeptBack] = lambda *_: NOTHING_KEPT
    proves: Callable[[Inputs], bool] = lambda _: True
    tell: Callable[[str], None] = lambda _: None

    @property
    def makes_plans(self) -> bool:
        """Whether whole plans are made; where none are, the corners say all."""
        return self.proves is not BY_CORNERS.proves


BY_CORNERS = Proof()
"""Nothing beyond the corners."""


@dataclass
class Proofs:
    """Whole plans that were made for nearest values: for what, whether proven, and what a refusal taught."""

    known: list[tuple[Inputs, bool, KeptBack]] = field(default_factory=list)
    begun: list[tuple[Inputs, Ahead[bool]]] = field(default_factory=list)

    def proven(self, proof: Proof, assessor: Assessor, programme: Programme) -> tuple[bool, KeptBack]:
        """Prove a programme, then a whole plan, each question once; `SolverError` after too many."""
        if (known := self._answer(assessor.inputs)) is not None:
            return known
        proof.tell("planning with a nearest value")
        inputs = assessor.inputs
        lesson, far = self._refused(proof, assessor, programme)
        held = not far and self._holds(proof, inputs)
        return self._learnt(inputs, held=held, lesson=NOTHING_KEPT if held else lesson)

    def planned(self, proof: Proof, inputs: Inputs) -> bool:
        """Whether a whole plan is proven, no programme looked at first; `SolverError` after too many."""
        known = self._answer(inputs)
        if known is None or not (known[0] or known[1] == NOTHING_KEPT):
            # A programme that was far out says nothing of others.
            proof.tell("planning with other values eased")
            known = self._learnt(inputs, held=self._holds(proof, inputs), lesson=NOTHING_KEPT)
        return known[0]

    def begin(self, proof: Proof, inputs: Inputs) -> None:
        """Have the second process make a whole plan that will probably be asked for, if it is not at work."""
        handed = ahead(proof.proves, inputs) if proof.makes_plans else None
        if handed is not None:
            for _, other in self.begun:
                other.forget()
            self.begun = [(inputs, handed)]

    def _holds(self, proof: Proof, inputs: Inputs) -> bool:
        """Whether a whole plan is proven, by the second process if it has begun."""
        handed = [one for asked, one in self.begun if asked == inputs]
        return handed[0].result() if handed else proof.proves(inputs)

    def _answer(self, inputs: Inputs) -> tuple[bool, KeptBack] | None:
        """What was found for these inputs before, the last word first."""
        for asked, held, lesson in reversed(self.known):
            if asked == inputs:
                return held, lesson
        if len(self.known) >= PLANS_MOST:
            raise SolverError("the search for nearest values was given up")
        return None

    def _learnt(self, inputs: Inputs, *, held: bool, lesson: KeptBack) -> tuple[bool, KeptBack]:
        self.known.append((inputs, held, lesson))
        return held, lesson

    def _refused(self, proof: Proof, assessor: Assessor, programme: Programme) -> tuple[KeptBack, bool]:
        """What a programme has to keep back or count with, and whether a whole plan could not mend that."""
        if proof.find is None:
            return NOTHING_KEPT, False
        assessor.count_with(worst_corners(assessor, programme, proof.find))
        space = Space(assessor, programme.structure)
        trimmed = trim(space, programme.settings)
        if trimmed is None:
            # These rounds do not do; near as they come, a whole plan may have others.
            nearest = nearest_point(space, programme.settings)
            margins, _ = assessor.run(Programme(programme.structure, nearest))
            short = -min(float(margin.min()) for margin in margins.values())
            return assessor.kept, short >= FAR_SHORT
        self.begin(proof, assessor.inputs)
        lesson, before = proof.refuses(assessor, trimmed.programme), assessor.kept.backoff
        # What an earlier check found far short says nothing of this programme.
        more = [share - before.get(key, 0.0) for key, share in lesson.backoff.items()]
        return lesson, max(more, default=0.0) >= FAR_SHORT
