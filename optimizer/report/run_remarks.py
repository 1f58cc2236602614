"""What is remarked on the log of a run: phases found, errors, holds, stretches that nothing explains."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.check.phases import Phase
from optimizer.report.numbers import mmss
from optimizer.review.delivered import Delivered, Held, Step
from optimizer.review.drawn import Drew
from optimizer.review.logged_cost import Cost
from optimizer.review.reviewed import Reviewed

ERRORS = (
    *("ok", "stopped", "hooks do not fit", "power cut", "step too late", "not filled", "not drained"),
    *("float switch open", "overflow", "bath too hot", "sensor lost", "sensor stuck", "fill too long"),
    *("element too long", "run too long", "clock stopped", "float stays shut"),
    *("lid open too long", "no programme", "memory fails"),
)
"""By its number: why the reference controller ended a run, in its own words."""


CLOCK_SHARE = 0.004
"""Two clocks are off each other from this share on [1]: our choice."""

MOST_DREW = 4
"""Stretches with other watts that are told one by one [1]."""


def remarks(found: Reviewed) -> list[str]:
    """Give all that is remarked on a run, a sentence or a few each."""
    log, done, sure = found.log, found.done, found.sureness
    said = ["The log says that it is simulated: no machine has run."] if log.simulated else []
    said += [f"{remark[0].upper()}{remark[1:]}." for remark in log.remarks]
    if sure is not None:
        said.append(
            f"The log has no outputs: phases were found from the {sure.by}, 19 of 20 switchings to within "
            f"{sure.within_s:.0f} s; {100.0 * sure.explained:.0f} % of the readings are as the plan has them."
            if sure.by == "watts"
            else "The log has neither outputs nor watts: the plan's sequence was laid where the bath of the "
            f"machine as measured fits best, which may be off by {sure.within_s:.0f} s: that is too unsure "
            "for doses and for the machine. Log the watts too, or the four outputs."
        )
    if done.again is not None:
        said.append(
            f"The run is over; another one begins at {mmss(done.again.start_s - done.start_s)}: "
            "review each by itself."
        )
    if log.error:
        said.append(
            f"The controller ended the run at {mmss(max(log.error_s - done.start_s, 0.0))}: "
            f"{error_text(log.error)}. What it did then of its own accord is not reviewed."
        )
    if found.cost is not None:
        said.append(_cost(found.cost, dated=found.log.began is not None))
    said += [_held(one, done.start_s) for one in done.held]
    if done.held:
        said.append("After a held run no dose is proven: soil dries. What is told counts what was sprayed.")
    said += _drew(done.drew, done.start_s)
    if done.clock is not None and abs(done.clock) >= CLOCK_SHARE:
        way = "longer" if done.clock > 0.0 else "less"
        said.append(
            f"Long phases lasted {100.0 * abs(done.clock):.1f} % {way} than planned, all alike: the "
            "clock of the logger or of the controller is off, and doses by as much."
        )
    if done.unlike:
        said.append(_unlike(done.unlike))
    if done.odd is not None:
        on = [name.replace("_", " ") for name, is_on in vars(done.odd.outputs).items() if is_on]
        next_one = f", where the plan has {done.left_out[0].name}" if done.left_out else ""
        said.append(
            f"At {mmss(done.odd.start_s - done.start_s)} {' and '.join(on) or 'nothing'} is on for "
            f"{mmss(done.odd.lasts_s)}{next_one}: another plan, or a run that ended in an error."
        )
    elif done.left_out and not log.error:
        first = done.left_out[0]
        where = f"round {first.round + 1}" if first.round >= 0 else "the start"
        said.append(f"The log ends in {where}, {_where_in_it(done, first)}: what there is was looked at.")
    if done.left_out and (unrinsed := _unrinsed(found)):
        said.append(unrinsed)
    return said


def _held(held: Held, begun_s: float) -> str:
    """Say where all went off within a phase."""
    went_on = "then it went on"
    if held.anew:
        went_on = "then the tank was drained and the round began anew"
    return (
        f"At {mmss(held.start_s - begun_s)} all went off within the {held.phase.name} of round "
        f"{held.phase.round + 1} for {mmss(held.lasts_s)}; {went_on}: a lid that was opened, or somebody "
        "held the run."
    )


def _drew(drew: Sequence[Drew], begun_s: float) -> list[str]:
    """Say where the watts are not those of what was on: up to `MOST_DREW` stretches."""
    said = []
    for one in drew[:MOST_DREW]:
        when = f"From {mmss(one.start_s - begun_s)} on for {mmss(one.end_s - one.start_s)}"
        if one.element_share is None:
            said.append(
                f"{when} what was switched on drew nothing: a lid switch, a guard, a fuse or the plug "
                "had cut the supply. It is counted as off."
            )
        elif one.element_share == 0.0:
            said.append(
                f"{when} the element was switched on and drew nothing: its cut-out, its float switch or its "
                "contactor was open. It is counted as off."
            )
        else:
            percent = round(100.0 * abs(one.element_share - 1.0))
            way, volts = ("less", "low") if one.element_share < 1.0 else ("more", "high")
            said.append(
                f"{when} the element drew {percent} % {way} than in the rest of the run: {volts} voltage, "
                "or a contact that comes and goes. It is counted so."
            )
    if len(drew) > MOST_DREW:
        said.append(f"The watts are off in {len(drew) - MOST_DREW} more stretches: look at the wiring.")
    return said


def _unlike(steps: Sequence[Step]) -> str:
    """Say which timed phase first lasted other than planned."""
    phase, lasted = steps[0].phase, mmss(steps[0].lasted_s)
    where = f"round {phase.round + 1}" if phase.round >= 0 else "the start"
    more = f" (and {len(steps) - 1} more so)" if len(steps) > 1 else ""
    return (
        f"In {where} the {phase.name} lasted {lasted}, where this plan has {mmss(phase.longest_s)}{more}: "
        "another plan, constants that were edited, or a phase that somebody skipped."
    )


def _unrinsed(found: Reviewed) -> str:
    """Say so where a wash was begun and a rinse after it is not seen to its end."""
    kinds = [one.kind for one in found.rounds if one.whole]
    left = [phase for phase in found.done.left_out if phase.outputs.wash_pump and phase.round >= 0]
    if not left or "wash" not in [one.kind for one in found.rounds]:
        return ""
    return (
        f"{len(kinds)} of {max(phase.round for phase in left) + 1} rounds were seen to their end: what was "
        "washed may not be rinsed, and detergent may be left on it."
    )


def _where_in_it(done: Delivered, first: Phase) -> str:
    """Say in which phase a log ends, or before which, where the one before it was over."""
    last = done.steps[-1] if done.steps else None
    if last is not None and last.phase.round == first.round:
        over = last.phase.end == "time" and last.lasted_s >= last.phase.longest_s - 1
        if not over or last.phase.name == first.name:
            return f"in its {last.phase.name}"
    return f"before its {first.name}"


def _cost(cost: Cost, *, dated: bool) -> str:
    low, high = f"{cost.low:.3f}", f"{cost.high:.3f}"
    span = low if low == high else f"{low} to {high}"
    missing = "give that day's with --prices" if dated else "log times with their date"
    why = "" if low == high else f", by when it ran: {missing}"
    return f"Electricity: {cost.electricity_kwh:.3f} kWh, {span} {cost.currency} at the tariff's prices{why}."


def error_text(code: int) -> str:
    """What a number in the column `error` means."""
    return ERRORS[code] if 0 <= code < len(ERRORS) else f"error {code}"
