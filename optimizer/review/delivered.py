"""What a log says was done of a programme: its segments are held against the phases of the plan, in order."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.check.phases import OFF, Outputs, Phase, phases
from optimizer.programme.constants import Constants
from optimizer.review.drawn import Drew
from optimizer.review.run_log import RunLog, Segment

SHORT_S = 6.0
"""A gap as short as this may be missing in a log, or stand in it twice [s]: our choice."""


SLIP_S, SLIP_SHARE = 2.0, 0.01
"""How far a phase that time ends may be off its seconds, rows apart: two clocks [s, 1]: our choice."""

CLOCK_S = 300
"""Phases from this length on tell whether two clocks go alike [s]: our choice."""

SWITCH_S = 1
"""A fill that takes the longest it may, to within this, was not ended by its switch [s]: rows of a log."""


@dataclass(frozen=True)
class Step:
    """A phase of the plan as it was done.

    Attributes
    ----------
    phase : Phase
        The phase of the plan.
    start_s : float
        When it began, by the log's clock [s].
    parts : tuple of Phase
        What was on, one after the other, each as long as it lasted, to the second.
    held_s : int
        Of that, how long all was off before the phase went on, or was given up [s].
    """

    phase: Phase
    start_s: float
    parts: tuple[Phase, ...]
    held_s: int = 0

    @property
    def lasted_s(self) -> int:
        """How long it lasted [s]."""
        return sum(part.longest_s for part in self.parts)

    @property
    def ran_s(self) -> int:
        """How long of that it was not held [s]."""
        return self.lasted_s - self.held_s


@dataclass(frozen=True)
class Held:
    """A phase within which all went off, and the run went on after it.

    Attributes
    ----------
    phase : Phase
        Which one.
    start_s, lasts_s : float
        When all went off, by the log's clock, and for how long [s].
    anew : bool
        Whether the tank was drained then and the round began anew.
    """

    phase: Phase
    start_s: float
    lasts_s: float
    anew: bool


@dataclass(frozen=True)
class Delivered:
    """A run as it was done.

    Attributes
    ----------
    steps : tuple of Step
        The phases of the plan that the log holds.
    left_out : tuple of Phase
        Those that it does not hold any more.
    odd : Segment or None
        The first segment that no phase of the plan explains; after it nothing was looked at.
    start_s : float
        When the run began, by the log's clock [s].
    again : Segment or None
        The first one after the end of the run: another run in the same file.
    unlike : tuple of Step
        Phases that time ends and that were over, but not when the plan has it.
    held : tuple of Held
        Where the run was held.
    drew : tuple of Drew
        Where the watts are not those of what was on.
    clock : float or None
        By which share of them the long phases that time ends lasted longer than planned [1]; None where none
        is long, or some are unlike.
    """

    steps: tuple[Step, ...]
    left_out: tuple[Phase, ...]
    odd: Segment | None
    start_s: float
    again: Segment | None = None
    unlike: tuple[Step, ...] = ()
    held: tuple[Held, ...] = ()
    drew: tuple[Drew, ...] = ()
    clock: float | None = None

    @property
    def complete(self) -> bool:
        """Whether the log holds the run to its end."""
        return not self.left_out and self.odd is None

    @property
    def parts(self) -> list[Phase]:
        """All that was on, one after the other, to be simulated."""
        return [part for step in self.steps for part in step.parts]

    @property
    def to_simulate(self) -> list[Phase]:
        """The parts; a fill that its switch ended as the plan has it: the switch says how much came in."""
        return [
            replace(part, end="level", longest_s=step.phase.longest_s) if self._by_switch(step) else part
            for step in self.steps
            for part in step.parts
        ]

    @property
    def fills_s(self) -> list[int]:
        """How long the fills took that their switch ended [s]."""
        return [step.lasted_s for step in self.steps if self._by_switch(step)]

    def _by_switch(self, step: Step) -> bool:
        over = step is not self.steps[-1]  # a log may end within a fill
        ended = step.lasted_s < step.phase.longest_s - SWITCH_S
        return (
            step.phase.name == "fill"
            and step.phase.end == "level"
            and ended
            and over
            and len(step.parts) == 1
        )


def delivered(constants: Constants, log: RunLog) -> Delivered:
    """Hold the segments of a log against the phases of a plan.

    A log may begin before the run and go on after it, with everything off. A phase that a sensor or a switch
    ends may be over at once; a gap may be too short for the log to show it.
    """
    done = _held_against(constants, log)
    timed = _timed(done, log)
    before = dict(zip(map(id, done.steps[1:]), done.steps, strict=False))
    unlike = tuple(step for step in timed if _is_unlike(step, before.get(id(step)), log.time_s))
    long_ones = [step for step in timed if step.phase.longest_s >= CLOCK_S and not step.phase.cycles]
    clock = None
    if long_ones and not unlike:
        planned_s = sum(step.phase.longest_s for step in long_ones)
        clock = sum(step.lasted_s for step in long_ones) / planned_s - 1.0
    return replace(done, unlike=unlike, clock=clock)


def _timed(done: Delivered, log: RunLog) -> Sequence[Step]:
    """Phases that time ends and that the log holds from their beginning to their end."""
    last = done.steps[-1:]
    cut = [one for one in last if one.start_s + one.lasted_s >= log.time_s[-1] and _is_short(one)]
    whole = done.steps[:-1] if cut or not done.complete else done.steps
    begun = whole[1:] if done.start_s <= log.time_s[0] else whole
    return [
        step for step in begun if step.phase.end == "time" and step.phase.outputs != OFF and not step.held_s
    ]


def _is_short(step: Step) -> bool:
    return step.lasted_s < step.phase.longest_s


def _is_unlike(step: Step, before: Step | None, time_s: NDArray[np.float64]) -> bool:
    """Whether a phase did not last as planned, by more than two clocks and the rows at its ends allow."""
    ends_s = (step.start_s, step.start_s + step.lasted_s)
    rows = np.clip(np.searchsorted(time_s, ends_s), 1, len(time_s) - 1)
    row_s = float((time_s[rows] - time_s[rows - 1]).max())
    # Where a held bath ends and its spray goes on no output shows: the slip of both is at the end.
    held_s = before.phase.longest_s if before is not None and before.phase.cycles else 0
    slip_s = SLIP_S + SLIP_SHARE * (step.phase.longest_s + held_s) + row_s
    return abs(step.lasted_s - step.phase.longest_s) > slip_s


def _held_against(constants: Constants, log: RunLog) -> Delivered:
    asked = [phase for phase in phases(constants) if phase.name != "stand" and phase.longest_s > 0]
    # What a controller does of its own accord once something is wrong is no phase of the plan.
    segments = [
        replace(one, end_s=min(one.end_s, log.error_s)) for one in log.segments if one.start_s < log.error_s
    ]
    while segments and segments[0].asked == OFF:
        segments.pop(0)
    while segments and segments[-1].asked == OFF:
        segments.pop()
    start_s = segments[0].start_s if segments else float(log.time_s[0])
    row_s = float(np.median(np.diff(log.time_s)))
    steps, at, held = list[Step](), 0, list[Held]()
    waiting = deque(segments)

    def found(left: Sequence[Phase], odd: Segment | None, again: Segment | None = None) -> Delivered:
        return Delivered(tuple(steps), tuple(left), odd, start_s, again, held=tuple(held))

    while waiting:
        segment = waiting.popleft()
        if (one := _held(asked, at, segment, waiting, steps)) is not None:
            held.append(one)
            steps[-1] = _with_pause(steps[-1], segment)
            if one.anew:
                at = _begin_anew(asked, one.phase.round, waiting, steps)
            continue
        place = _place(asked, at, segment, steps)
        if place is None and at == len(asked):
            other = next(one for one in (segment, *waiting) if one.asked != OFF or not waiting)
            return found((), None, other)
        if place is None:
            return found(asked[at:], segment)
        steps += [_unseen(gap, segment.start_s) for gap in asked[at:place] if _between_rows(gap, row_s)]
        phase, follows = asked[place], asked[place + 1 : place + 2]
        done_s = steps[-1].ran_s if steps and place == at - 1 else 0
        left_s = phase.longest_s - done_s
        goes_on = bool(follows) and phase.end == "time" and _fits(follows[0], segment)
        again = bool(waiting) and not follows and segment.lasts_s > left_s + SHORT_S
        if again or (goes_on and segment.lasts_s > left_s):
            # What comes next, of this run or another, switches nothing: one stretch of both.
            waiting.appendleft(replace(segment, start_s=segment.start_s + left_s))
            segment = replace(segment, end_s=segment.start_s + left_s)
        since_s = start_s + sum(step.lasted_s for step in steps)
        # After the last row it may have gone on for nearly another one.
        short_s = row_s * (2.0 if segment.end_s >= log.time_s[-1] else 1.0)
        part = _part(phase, segment, done_s, (row_s, short_s), since_s)
        if steps and place == at - 1:
            steps[-1] = replace(steps[-1], parts=(*steps[-1].parts, part))
        else:
            steps.append(Step(phase, segment.start_s, (part,)))
            at = place + 1
    return found(asked[at:], None)


def _held(
    asked: Sequence[Phase], at: int, segment: Segment, waiting: Sequence[Segment], steps: Sequence[Step]
) -> Held | None:
    """Tell whether all went off within a phase, and the run went on with it, or with its round anew."""
    if not steps or not waiting or segment.asked != OFF:
        return None
    phase, after = asked[at - 1], asked[at + 1 : at + 2]
    over = phase.end == "time" and steps[-1].ran_s >= phase.longest_s - SLIP_S
    if phase.outputs == OFF or over:
        return None
    goes_on = _fits(phase, waiting[0]) and not (after and _fits(after[0], waiting[0]))
    if goes_on or _is_anew(asked, at, waiting):
        return Held(phase, segment.start_s, segment.lasts_s, anew=not goes_on)
    return None


def _is_anew(asked: Sequence[Phase], at: int, waiting: Sequence[Segment]) -> bool:
    """Tell whether the tank is drained out of turn and the round begins anew: one fill more than are left."""
    on = [one.asked for one in waiting if one.asked != OFF]
    if asked[at - 1].round < 0 or on[:2] != [Outputs(drain_pump=True), Outputs(inlet=True)]:
        return False
    left = sum(one.name == "fill" for one in asked[at:])
    return on.count(Outputs(inlet=True)) > left or all(one.name != "drain" for one in asked[at : at + 2])


def _begin_anew(asked: Sequence[Phase], number: int, waiting: deque[Segment], steps: list[Step]) -> int:
    """Take the drain of a round that was given up; where its first phase stands."""
    drain = waiting.popleft()
    phase = Phase("drain", number, round(drain.lasts_s), drain.outputs)
    steps.append(Step(phase, drain.start_s, (phase,)))
    first = next(place for place, one in enumerate(asked) if one.round == number)
    if waiting[0].asked == OFF:
        gap = waiting.popleft()
        part = Phase("gap", number, round(gap.lasts_s))
        steps.append(Step(part, gap.start_s, (part,)))
    return first


def _with_pause(step: Step, segment: Segment) -> Step:
    lasts_s = round(segment.lasts_s)
    return replace(step, parts=(*step.parts, _pause(step.phase, lasts_s)), held_s=step.held_s + lasts_s)


def _pause(phase: Phase, lasts_s: int) -> Phase:
    """Everything off within a phase."""
    pause = replace(phase, name="held", longest_s=lasts_s, outputs=OFF, end="time")
    return replace(pause, cycles=False, steam=False)


def _place(asked: Sequence[Phase], at: int, segment: Segment, steps: Sequence[Step]) -> int | None:
    """Which phase a segment belongs to: the one that is on, or the next that may be."""
    resumes = bool(steps) and (asked[at - 1].cycles or steps[-1].ran_s < asked[at - 1].longest_s)
    if resumes and _fits(asked[at - 1], segment):
        done_s = steps[-1].ran_s
        if done_s < asked[at - 1].longest_s or not (at < len(asked) and _fits(asked[at], segment)):
            return at - 1
    for place in range(at, len(asked)):
        if _fits(asked[place], segment):
            return place
        if not _may_be_missing(asked[place]):
            break
    # A relay that bounces, or a log that saw a gap twice.
    if steps and segment.asked == OFF and segment.lasts_s <= SHORT_S:
        return at - 1
    return None


def _fits(phase: Phase, segment: Segment) -> bool:
    element = segment.asked.element if phase.cycles else phase.outputs.element
    return replace(phase.outputs, element=element) == segment.asked


def _may_be_missing(phase: Phase) -> bool:
    return phase.end != "time" or (phase.name == "gap" and phase.longest_s <= SHORT_S)


def _between_rows(phase: Phase, row_s: float) -> bool:
    """Whether a phase may fall between two rows: what a log does not show of it was done all the same."""
    return phase.name == "gap" and 0 < phase.longest_s <= row_s


def _unseen(gap: Phase, end_s: float) -> Step:
    return Step(gap, end_s - gap.longest_s, (gap,))


def _part(phase: Phase, segment: Segment, done_s: int, near_s: tuple[float, float], since_s: float) -> Phase:
    """A phase as it was done, ended by time: as long as the log says, or as written if the rows allow it.

    They allow it to look so much longer and so much shorter than it is: ``near_s``.

    What begins at ``since_s`` by the parts before it ends when the log says, so that rows do not add up.
    """
    lasts_s = max(round(segment.end_s - since_s), 0)
    if phase.end == "time" and -near_s[1] <= done_s + segment.lasts_s - phase.longest_s <= near_s[0]:
        lasts_s = phase.longest_s - done_s
    if segment.said is not None and segment.outputs == OFF:
        return _pause(phase, lasts_s)
    return replace(
        phase,
        longest_s=lasts_s,
        outputs=segment.outputs,
        end="time",
        cycles=False,
        steam=phase.steam and segment.outputs.element,
        element_share=segment.element_share,
    )
