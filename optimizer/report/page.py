"""The words of a plan's page that the terminal does not print: charts, cost, heat, first run."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from optimizer.check.certificate import Certificate, Trace
from optimizer.check.courses import Courses
from optimizer.check.least_heat import LeastHeat
from optimizer.check.trace_rounds import round_starts
from optimizer.planner.cost import unit_prices
from optimizer.programme.plan import Plan
from optimizer.report.layout import NOTHING
from optimizer.report.numbers import amount, count, drawn_of_left, mmss, money, money_decimals
from optimizer.report.plan import FIRST_HEATED
from optimizer.units import G_PER_KG, S_PER_MIN, short

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

BAND = "The shaded band runs from the least to the most of the nominal run and {points}."
COURSE_HEADS = (
    ("round", ""),
    ("begins", "m:ss"),
    ("ends", "m:ss"),
    ("hottest bath", "°C"),
    ("in the band", "°C"),
    ("hottest ware", "°C"),
    ("most water", "l"),
    ("least cover", "l"),
    ("current", "A"),
)


@dataclass(frozen=True)
class CourseWords:
    """Title and sentence of each chart of a run over time; the sentence says what the chart shows."""

    warmth_title: str
    warmth: str
    doses_title: str
    doses: str
    level_title: str
    level: str
    current_title: str
    current: str


def course_words(plan: Plan, certificate: Certificate, courses: Courses) -> CourseWords:
    """Say what the charts show."""
    points = f"the runs at {count(len(courses.names) - 1, 'worst point')} that the check found"
    band = BAND.format(points=points) if len(courses.names) > 1 else ""
    return CourseWords(
        warmth_title="How warm bath and ware are, and what is on",
        warmth=f"{_warmth(plan, certificate)} {band}".strip(),
        doses_title="How the doses fill up",
        doses=_doses(plan, courses),
        level_title="How much water is in the tank",
        level=f"{_level(plan, courses)} {band}".strip(),
        current_title="Current against what the circuit leaves",
        current=_current(plan),
    )


def _warmth(plan: Plan, certificate: Certificate) -> str:
    trace = certificate.trace
    at = int(trace.bath_c.argmax())
    number = sum(start_s <= at for start_s in round_starts(trace))
    limit_c = plan.inputs.machine.tank.limit_c
    return (
        f"The nominal bath is hottest in round {number}, {trace.bath_c[at]:.0f} °C at {mmss(at)} min, and "
        f"the ware gets to {trace.ware_c.max():.0f} °C. {_hottest(certificate)} "
        f"The tank stands {limit_c:g} °C. Below, the bars show when each output is on in "
        "the nominal run."
    )


def _hottest(certificate: Certificate) -> str:
    """Say how hot the bath may get, in the numbers of the certificate, the layers of a heating counted."""
    row = next((row for row in certificate.rows if row.key == "tank.bath_c"), None)
    if row is None:
        return ""
    found = f"The hottest bath found at any point of the tolerances is {row.shown(row.worst)}"
    return f"{found}{'' if row.guaranteed is None else f', and {row.shown(row.held)} is guaranteed'}."


def _doses(plan: Plan, courses: Courses) -> str:
    parts = []
    for dose in plan.inputs.goal.dose:
        earned_s, asked_s = courses.doses_s[dose.name], dose.minutes.high * S_PER_MIN
        worst_s = earned_s[courses.place(f"dose.{dose.name}")]
        full = worst_s.searchsorted(asked_s * (1.0 - 1e-6))
        when = (
            f"full at {mmss(full)} min" if full < len(worst_s) else "not full at the end of the course drawn"
        )
        parts.append(
            f"{dose.name} asks for {short(dose.minutes.high)} min: at its worst point it is {when}, "
            f"and the nominal run earns {short(float(earned_s[0, -1]) / S_PER_MIN, 3)} min"
        )
    return (
        f"{'. '.join(part[0].upper() + part[1:] for part in parts)}. Thick lines are the worst point of each "
        "dose, thin ones the nominal run, cut off at 150 %; below, how many minutes of the dose a "
        "nominal minute earns."
    )


def _level(plan: Plan, courses: Courses) -> str:
    machine = plan.inputs.machine
    covers = f", the element is covered from {short(machine.element.cover_l)} l" if machine.element else ""
    return (
        f"At the most {courses.level_l.max():.1f} l are in the tank, whose lip is at "
        f"{short(machine.tank.capacity_l)} l. The pump draws no air from {short(machine.wash_pump.prime_l)} "
        f"l on{covers}. The upper line is all water in the tank; the lower, dashed one is what covers "
        "element and suction, without what is on its way and what hangs on the ware."
    )


def _current(plan: Plan) -> str:
    drawn = drawn_of_left(plan.costs.peak_a, plan.inputs.circuit.available_a)
    return (
        f"At the most {drawn} left on {plan.inputs.names[2]} are drawn. The line is the highest running "
        "current of what is on in the nominal run: the element at the highest voltage, motors at the lowest."
    )


def course_rows(plan: Plan, trace: Trace, courses: Courses, currents_a: Array) -> list[list[str]]:
    """Give the charts in numbers, a row a round: names, units, then the rounds."""
    end_s = int(trace.time_s[trace.drain_pump][-1]) + 1
    starts_s = round_starts(trace)
    rows = [[head[part] for head in COURSE_HEADS] for part in (0, 1)]
    for number, (begins_s, ends_s) in enumerate(pairwise([*starts_s, end_s]), start=1):
        part = slice(begins_s, ends_s)
        baths_c, wet = courses.bath_c[:, part], trace.wash_pump[part] | trace.element[part]
        covers_l = courses.pool_l[:, part][:, wet] if wet.any() else None
        hottest_c = baths_c.max(axis=1)
        rows.append(
            [
                f"{number} {plan.constants.rounds[number - 1].kind}",
                mmss(begins_s),
                mmss(ends_s),
                f"{trace.bath_c[part].max():.0f}",
                f"{hottest_c.min():.0f} to {hottest_c.max():.0f}",
                f"{trace.ware_c[part].max():.0f}",
                f"{courses.level_l[:, part].max():.1f}",
                NOTHING if covers_l is None else f"{covers_l.min():.1f}",
                f"{math.ceil(float(currents_a[part].max()) * 100.0 - 1e-6) / 100.0:.2f}",
            ]
        )
    return rows


@dataclass(frozen=True)
class Part:
    """A part of a whole: what it is, in words and figures, and its share [1]."""

    name: str
    amount: str
    value: str
    share: float


def cost_parts(plan: Plan) -> list[Part]:
    """Part what the planner makes least: electricity, water, detergent, waiting [currency]."""
    costs, prices, currency = plan.costs, unit_prices(plan.inputs), plan.inputs.tariff.currency
    parts = [
        ("electricity", f"{costs.electricity_kwh:.3f} kWh", costs.electricity_kwh * prices.per_kwh),
        ("water", f"{costs.water_l:.1f} l", costs.water_l * prices.per_l),
        (
            "detergent",
            f"{costs.detergent_g:.1f} g",
            costs.detergent_g / G_PER_KG * plan.inputs.goal.detergent_per_kg,
        ),
        ("waiting", f"{costs.duration_min:.0f} min", costs.waiting),
    ]
    total = sum(max(value, 0.0) for _, _, value in parts) or 1.0
    decimals = money_decimals([value for _, _, value in parts], fine=True)
    return [
        Part(name, how_much, f"{amount(value, decimals)} {currency}", max(value, 0.0) / total)
        for name, how_much, value in parts
    ]


def cost_words(plan: Plan) -> str:
    """Say how the parts add up."""
    currency, costs = plan.inputs.tariff.currency, plan.costs
    return (
        f"A run costs {money(costs.money, currency)} at the mean price of electricity; with the value of the "
        f"waiting the planner made {money(costs.with_waiting, currency)} least."
    )


def heat_parts(plan: Plan, courses: Courses) -> list[Part]:
    """Part the electricity of the nominal run by where it ends [kWh]."""
    heat = courses.heat
    own_kwh = plan.costs.electricity_kwh - heat.element_kwh - heat.pump_kwh
    held = "in ware, tank and what is left of the water at the end"
    if heat.ware_and_tank_kwh < 0.0:
        held = "taken from ware and tank, which end colder than the room"
    parts = [
        ("into the drain with the water", heat.drained_kwh),
        ("through walls and lid", heat.walls_kwh - heat.evaporated_kwh),
        ("off with water that evaporates", heat.evaporated_kwh + heat.steam_kwh),
        (held, heat.ware_and_tank_kwh),
        ("pumps, valve and controller: not into the bath", own_kwh),
    ]
    total = sum(max(kwh, 0.0) for _, kwh in parts) or 1.0
    return [Part(name, "", f"{amount(kwh, 3)} kWh", max(kwh, 0.0) / total) for name, kwh in parts]


def heat_words(plan: Plan, courses: Courses, least: LeastHeat) -> list[str]:
    """Say what comes in, and hold it against the least that physics asks for the goal."""
    heat = courses.heat
    came_kwh = heat.element_kwh + heat.pump_kwh
    pipe = f", and {heat.pipe_kwh:.3f} kWh come in with water that stood in the room" if heat.pipe_kwh else ""
    words = (
        f"The element puts {heat.element_kwh:.3f} kWh into the bath and the wash pump {heat.pump_kwh:.3f} "
        f"kWh{pipe}; {plan.costs.electricity_kwh:.3f} kWh of electricity in all. Water counts from the "
        "inlet's temperature, ware and tank from the room's."
    )
    hot = [
        f"once {_to(to_c)} {where}"
        for to_c, where in ((least.wash_c, "for the doses"), (least.rinse_c, "in a rinse"))
        if to_c > plan.inputs.machine.inlet.water_c.nominal
    ]
    if not hot:
        return [words, "Physics asks for no heat: the doses can be earned as cold as the water comes."]
    over = f", {came_kwh / least.kwh:.1f} times that" if least.kwh > 0.0 and came_kwh > least.kwh else ""
    return [
        words,
        f"The least that physics asks for this goal is {least.kwh:.3f} kWh: {short(least.bath_l, 3)} l of "
        f"bath, the ware and the tank {' and '.join(hot)}, with all of the time that the goal allows and "
        f"nothing lost on the way. This run puts {came_kwh:.3f} kWh into the bath{over}.",
    ]


def _to(to_c: float) -> str:
    return f"at {to_c:.0f} °C"


def checklist(plan: Plan, certificate: Certificate) -> list[str]:
    """List what is seen to before and in the first run, in its order."""
    constants, machine = plan.constants, plan.inputs.machine
    level = machine.inlet.control == "level"
    checks = [
        "Guards of the list above are in, each was tried once, and each stopped what it has to stop.",
        "A licensed electrician has seen the wiring; the earth-fault device's test button trips it.",
        "The constants on the controller carry the hash of this page.",
        "The bench run went through every phase with the element unplugged: each valve and pump in its turn, "
        "none of them at a wrong time.",
        "The inlet ends above the rim; the drain hose loops above the rim or has an air break.",
        f"The start drain empties a full tank within {mmss(constants.start_drain_s)}.",
        *(
            ["The level switch closes by itself, and the fill stops there."]
            if level
            else [f"The first fill gives the litres of the table within {mmss(constants.rounds[0].fill_s)}."]
        ),
        *(
            [
                "The float switch opens after every drain, with water let out by hand as well.",
                "First run: the element unplugged, no ware in the machine, somebody at the plug, to the end, "
                "or until a sensor that stands still ends it.",
                *(
                    [f"{FIRST_HEATED}; its hottest was noted: ______ °C. {_hottest(certificate)}"]
                    if any(row.heated for row in constants.rounds)
                    else []
                ),
            ]
            if machine.element is not None
            else ["First run: no ware in the machine, somebody at the plug, to the end."]
        ),
        "Nothing dripped, nothing but the bath was warm, and nothing smelt.",
        "The run took as long as the table says: ______ min.",
    ]
    if constants.detergent_g:
        checks.append("Detergent is at hand, locked away from children, and weighed as the table says.")
    return checks
