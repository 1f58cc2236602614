"""Limits of a setpoint: what tank, drain pipe, goal and ware stand, the least of them with its reason.

Ware stands a step of so many kelvin as a spray begins. A bath set hotter by some kelvin leaves the ware of
the next round hotter by no more, and meets colder ware by no more: what the certificate has to spare bounds
the setpoints of two rounds in a row where both are heated, and of one beside a cold round by itself.
"""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.check.table_rows import bath_most_c, room_under_limit_k
from optimizer.emit.assertions import Relation, Term, at_least, at_most, exactly, in_c, number
from optimizer.emit.meanings import of_round
from optimizer.profile.machine_loads import Element
from optimizer.programme.constants import Constants, Round, first_wash
from optimizer.programme.plan import Plan
from optimizer.units import whole_tenths

UNDER_WATCHDOG_DK = 5
"""A setpoint stays so far under the watchdog of the bath [0.1 K]: what a check guarantees of the hottest
reading is up to 0.2 K over what the sensor stops at; *no source*, our choice."""
UNDER_LIMIT_K = 0.2
"""A setpoint stays so far under what the bath must not pass, beside the sensor's error [K]: what a check
guarantees of a bath is up to that much over it; *no source*, our choice."""
UNHEATED = "an unheated round has no setpoint"


def is_set(row: Round) -> bool:
    """Whether a sensor stops the element of a round."""
    return row.heated and row.setpoint_dc > 0


def setpoint_limits(plan: Plan, place: int, row: Round) -> Iterator[Relation]:
    """The setpoint of one round by itself."""
    name, element = of_round(place, "setpoint_dc"), plan.inputs.machine.element
    if not is_set(row) or element is None:
        yield exactly(name, row.setpoint_dc, "no sensor stops the element here")
        return
    yield from at_least(name, 1, "the element would never come on")
    heat, spray = (of_round(place, one) for one in ("heat_s", "spray_element_s"))
    both = f"{in_c(heat)}, {in_c(spray)}: {UNHEATED}"
    yield Relation((Term(heat), Term(spray)), ">=", number(1), both)
    most_dc, why = highest_setpoint(plan, place, row, element)
    yield at_most(name, most_dc, why)
    watched = f"{in_c(name)}, {in_c('bath_max_dc')}: above the watchdog of the bath"
    under_dk = min(UNDER_WATCHDOG_DK, plan.constants.bath_max_dc - row.setpoint_dc)
    yield Relation((Term(name), *number(under_dk)), "<=", (Term("bath_max_dc"),), watched)


def highest_setpoint(plan: Plan, place: int, row: Round, element: Element) -> tuple[int, str]:
    """Find the highest setpoint that all stand [0.1 °C], and what does not stand more.

    One that was proven stands, whatever its limit by itself: a bath may be cooled before its drain.
    """
    most_c, why = min(_ceilings(plan, place, row, element))
    return max(whole_tenths(max(most_c, 0.0)), row.setpoint_dc), why


def _ceilings(plan: Plan, place: int, row: Round, element: Element) -> Iterator[tuple[float, str]]:
    """What each limit makes of the highest setpoint [°C], in words without a degree sign."""
    machine, goal = plan.inputs.machine, plan.inputs.goal
    over_k = element.sensor_error_k + UNDER_LIMIT_K
    top_k = 0.0
    if row.heat_s:
        # Heated with the pump off: the tank must stand the top; what is sprayed is the mean.
        top_k, over_k = element.top_over_mean_k.high, over_k - element.sensor_over_mean_k.low
    bath = "with the sensor's error the bath may pass"
    tank_c, most_c = machine.tank.limit_c, bath_most_c(plan.constants, machine)
    room_k = room_under_limit_k(plan.constants, machine)
    kept = f"{tank_c:g} C of the tank" + f" less {room_k:g} K for a cut-out" * bool(room_k)
    yield tank_c - room_k - top_k - over_k, f"{bath} {kept}"
    if most_c < tank_c - room_k:
        yield most_c - over_k, f"{bath} its boil, {most_c:.3g} C"
    if row.kind == "prerinse":
        yield goal.prerinse.limit_c - over_k, f"{bath} the {goal.prerinse.limit_c:g} C of a prerinse"
    first_c = goal.limits.first_wash_most_c
    if row.heat_s and first_c > 0.0 and place - 1 == first_wash(plan.constants):
        yield first_c - over_k, f"{bath} the {first_c:g} C at which a first wash begins"
    pipe = machine.drain_pump
    if not pipe.stands_the_boil:
        yield pipe.drain_limit_c - over_k, f"{bath} the {pipe.drain_limit_c:g} C of the drain pipe"
    ceiling_c = _dose_ceiling_c(plan, row)
    if ceiling_c is not None:
        yield ceiling_c, f"no dose gains above {ceiling_c:g} C"


def _dose_ceiling_c(plan: Plan, row: Round) -> float | None:
    """Above which no dose that a round counts for gains [°C]; None where its heat serves something else."""
    goal = plan.inputs.goal
    serves = row.kind == "rinse" and (goal.hygiene.method != "none" or goal.drying.method != "none")
    ceilings_c = [dose.ceiling_c for dose in goal.dose if row.kind in dose.kinds]
    return max(ceilings_c) if ceilings_c and not serves else None


def step_limits(plan: Plan) -> Iterator[Relation]:
    """Setpoints of rounds that follow each other, by what the ware has to spare as a spray begins."""
    certified, limits, rounds = plan.certified, plan.inputs.goal.limits, plan.constants.rounds
    drop_dk = _spare_dk(limits.ware_drop_k, certified.ware_drop_k)
    rise_dk = _spare_dk(limits.ware_rise_k, certified.ware_rise_k)
    for place, row in enumerate(rounds, start=1):
        if not is_set(row):
            continue
        before = place - 1 if place > 1 and is_set(rounds[place - 2]) else None
        after = place + 1 if place < len(rounds) and _sets_its_bath(rounds[place]) else None
        if drop_dk is not None and place < len(rounds):
            over = f"{_spare(drop_dk)} until ware is {limits.ware_drop_k:g} K over a bath as a spray begins"
            yield _no_higher(plan.constants, place, after, drop_dk, over)
        if rise_dk is not None and _sets_its_bath(row):
            under = f"{_spare(rise_dk)} until ware is {limits.ware_rise_k:g} K under a bath as a spray begins"
            yield _no_higher(plan.constants, place, before, rise_dk, under)


def _spare_dk(limit_k: float | None, held_k: float | None) -> int | None:
    """By how much a step stays under its limit [0.1 K]; None where there is none, or nobody knows."""
    if limit_k is None or held_k is None:
        return None
    return whole_tenths(max(limit_k - held_k, 0.0))


def _spare(spare_dk: int) -> str:
    return f"certified {spare_dk / 10.0:g} K to spare"


def _sets_its_bath(row: Round) -> bool:
    """Whether the setpoint says how warm the bath is as the spray begins."""
    return is_set(row) and row.heat_s > 0


def _no_higher(constants: Constants, place: int, than: int | None, spare_dk: int, why: str) -> Relation:
    """Let a setpoint rise over another, or by itself, by no more than what is to spare [0.1 K]."""
    names = [of_round(one, "setpoint_dc") for one in (place, than) if one is not None]
    now_dc = [constants.rounds[one - 1].setpoint_dc for one in (place, than) if one is not None]
    over_dc = now_dc[0] - sum(now_dc[1:]) + spare_dk
    left: tuple[Term, ...] = (Term(names[0]),)
    right = tuple(Term(name) for name in names[1:])
    if over_dc < 0:
        left = (*left, *number(-over_dc))
    elif over_dc or not right:
        right = (*right, *number(over_dc))
    return Relation(left, "<=", right, f"{', '.join(map(in_c, names))}: {why}")
