"""The answer to `plan`: verdict, rounds, timeline, cost, margins, next steps, cautions."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from optimizer.check.certificate import Certificate, Row, longest_min
from optimizer.check.certified import certified, proof_cautions
from optimizer.check.dosing_moment import when_dosed
from optimizer.check.faults.guard_words import MORE_GUARDS
from optimizer.check.faults.guards import Protection
from optimizer.profile.shipped import PROFILE_KINDS
from optimizer.programme.cautions import RINSED, cautions
from optimizer.programme.circuit_device import device_words
from optimizer.programme.plan import LowerBound, Plan
from optimizer.report.cautions import cautions_section
from optimizer.report.certificate import (
    certificate_to_dict,
    experimental,
    standing,
)
from optimizer.report.detergent import detergent_line, doses_to_list
from optimizer.report.last_film import last_film_lines, last_film_to_dict
from optimizer.report.layout import bullets, command_line, section, wrapped
from optimizer.report.numbers import drawn_of_left, is_longer, mmss, money, nominal_and_longest, plain, whole
from optimizer.report.rounds import rounds_table, rounds_title, rounds_to_list
from optimizer.report.timeline import timeline
from optimizer.units import S_PER_MIN, short

TIGHTEST = 3


def plan_report(
    plan: Plan, certificate: Certificate, plan_file: str | None = None, bound: LowerBound | None = None
) -> str:
    """Lay out a plan, its proof, and what no programme costs less than, if that was asked for."""
    tightest = bullets(row.margin_line() for row in certificate.tightest(TIGHTEST))
    on_the_ware = last_film_lines(plan, certificate)
    sections = [
        wrapped(plan_verdict(plan, certificate)),
        section(rounds_title(plan.constants), rounds_table(plan, certificate.trace)),
        section("WHAT IS ON, AND HOW WARM THE BATH IS (nominal)", timeline(certificate.trace)),
        section("ONE RUN", _facts(one_run_facts(plan, certificate, bound))),
        *(section("WHAT STAYS ON THE WARE", _facts(lines)) for lines in [on_the_ware] if lines),
        section("TIGHTEST, in the worst case of the tolerances", tightest),
        section("GUARDS TO BUY, not optional whatever the constants", _guards(plan, certificate)),
        section("NEXT", _next_steps(plan, plan_file)),
        cautions_section(
            plan.inputs,
            after=proof_cautions(certificate),
            restarts=plan.constants.restart_after_cut,
            dosing=when_dosed(plan),
        ),
    ]
    return "\n\n".join(sections)


def plan_verdict(plan: Plan, certificate: Certificate) -> str:
    """Say in a sentence what the programme is, how far it is proven and what a run takes."""
    machine, goal, _, _ = plan.inputs.names
    costs, solve = plan.costs, plan.solve
    sentence = (
        f"{experimental(plan.inputs)}{goal} on {machine}: {standing(certificate)}; "
        f"{nominal_and_longest(costs.duration_min, longest_min(certificate.rows))}, "
        f"{costs.electricity_kwh:.2f} kWh, {costs.water_l:.1f} l, {_money(plan, costs.money)} a run."
        f"{'' if plan.inputs.goal.detergent else f' {RINSED}'}"
    )
    if solve.status == "optimal":
        return sentence
    return f"{sentence} The solver stopped at its {solve.status}: cheaper rounds may have been missed."


def guards_to_buy(plan: Plan, certificate: Certificate) -> tuple[str, ...]:
    """Name the guards that are not optional whatever the constants, with their numbers."""
    inputs = plan.inputs
    return Protection.of(plan.constants, inputs.machine, inputs.circuit, certified(certificate)).required


def _guards(plan: Plan, certificate: Certificate) -> str:
    """List the guards, and say where the others are named."""
    return f"{bullets(guards_to_buy(plan, certificate))}\n{wrapped(f'{MORE_GUARDS}: see NEXT.')}"


def search_words(plan: Plan) -> str:
    """Say how far the search goes: what a solver calls optimal is so of its model alone."""
    cut_off = "" if plan.solve.status == "optimal" else f", stopped at its {plan.solve.status}"
    return f"the best found ({plan.solve.solver}{cut_off}, then every round trimmed)"


def _money(plan: Plan, amount: float) -> str:
    return money(amount, plan.inputs.tariff.currency)


def one_run_facts(
    plan: Plan, certificate: Certificate, bound: LowerBound | None = None
) -> list[tuple[str, str]]:
    """Give what one run takes, each quantity by its name."""
    costs, inputs, constants = plan.costs, plan.inputs, plan.constants
    circuit = inputs.circuit
    stand = f", then {constants.stand_s / S_PER_MIN:.0f} min standing" if constants.stand_s else ""
    most_l, most_min = inputs.goal.limits.water_l, longest_min(certificate.rows)
    longest = ""
    if most_min is not None and is_longer(costs.duration_min, most_min):
        longest = f", up to {whole(most_min)} min in the worst case"
    facts = [
        *([("meant for", inputs.meant_for)] if inputs.meant_for else []),
        ("duration", f"{mmss(costs.duration_min * S_PER_MIN)}{longest}{stand} (longest allowed "
         f"{short(inputs.goal.limits.duration_min)} min)"),
        ("electricity", f"{costs.electricity_kwh:.3f} kWh"),
        ("water", f"{costs.water_l:.1f} l" + (f" (at most {short(most_l)} l)" if most_l else "")),
        ("detergent", detergent_line(plan)),
        ("cost", _cost(plan)),
        ("peak current", f"{drawn_of_left(costs.peak_a, circuit.available_a)} left on {inputs.names[2]} "
         f"({device_words(circuit)}), worst case"),
        ("search", search_words(plan)),
    ]  # fmt: skip
    if bound is not None:
        facts.append(("lower bound", _lower_bound(plan, bound)))
    if constants.lid_open_after_s:
        facts.append(
            ("lid", f"shut until {mmss(constants.lid_open_after_s)} after the last drain, then ajar")
        )
    facts += [("steam", _steam(row)) for row in certificate.rows if row.key == "steam.uncovered_min"]
    return facts


def _lower_bound(plan: Plan, bound: LowerBound) -> str:
    """Round the bound down and what may be saved up."""
    least = math.floor(bound.least * 10_000.0) / 10_000.0
    waiting = ", waiting counted" if plan.costs.waiting > 0.0 else ""
    within = math.ceil(bound.gap * 1000.0) / 10.0
    rounds = " + ".join(str(count) for count in bound.rounds_most)
    return (
        f"no programme of up to {rounds} rounds, prerinses cold, no warm first rinse topped up, "
        f"costs less than {least:.4f} {plan.inputs.tariff.currency}"
        f"{waiting}: this one is within {within:.1f} %"
    )


def _facts(facts: list[tuple[str, str]]) -> str:
    return "\n".join(wrapped(text, f"{name:<14}") for name, text in facts)


def _steam(row: Row) -> str:
    """Round both moments to the side that shows less room than there is."""
    bare_min, off_min = math.floor(row.held * 10.0) / 10.0, math.ceil(row.limit * 10.0) / 10.0
    return f"element uncovered after {bare_min:.1f} min at the earliest; switched off at {off_min:.1f}"


def _cost(plan: Plan) -> str:
    costs = plan.costs
    text = _money(plan, costs.money)
    if costs.money_high > costs.money_low:
        low, high = _money(plan, costs.money_low), _money(plan, costs.money_high)
        text += f" at the mean price of electricity; {low} at the lowest, {high} at the highest"
    if costs.waiting > 0.0:
        text += f"; the planner also counted {_money(plan, costs.waiting)} for the waiting"
    return text


def _next_steps(plan: Plan, plan_file: str | None) -> str:
    """Give the commands, to be copied, and the first run."""
    steps = [] if plan_file else [("Keep the plan:", [*plan_command(plan), "--out", "plan.json"])]
    kept = plan_file or "plan.json"
    constants = ["scullion", "constants", kept, "--format", "c"]
    steps += [
        ("Check it again:", ["scullion", "check", kept]),
        (
            "See what a broken part does, and which guard it asks for:",
            ["scullion", "check", kept, "--faults"],
        ),
        (
            "Rehearse it: every phase in seconds, nothing heated, each output but a dispenser seen to do "
            "what it should:",
            [*constants, "--bench-run", "--out", "wash_timing_rehearsal.h"],
        ),
        ("Write the constants:", [*constants, "--out", "wash_timing.h"]),
    ]
    lines = [
        f"{wrapped(what, f'{number}. ')}\n{command_line(words, '   ')}"
        for number, (what, words) in enumerate(steps, start=1)
    ]
    return "\n".join([*lines, wrapped(first_run(plan), f"{len(steps) + 1}. ")])


FIRST_HEATED = "First heated run: the element in, a full load of old ware, a thermometer in the bath"


STANDS_STILL = (
    " A sensor that nothing warms stands still, which may end this run where the element "
    "should heat (WASH_ERROR_SENSOR_STUCK): as it should."
)


def first_run(plan: Plan) -> str:
    """Say how the first run is made, and the first that heats."""
    unplugged = "the element unplugged, " * (plan.inputs.machine.element is not None)
    watched = f"{unplugged}no ware in the machine, and someone watching who can pull the plug."
    heated = any(row.heated for row in plan.constants.rounds)
    watched += STANDS_STILL * (heated and plan.constants.control == "thermostat")
    # Little ware would make the bath hotter than was proven.
    then = f" {FIRST_HEATED}, watched to its end." * heated
    return f"First run: {watched}{then}"


def plan_command(plan: Plan) -> list[str]:
    """Give the command that makes a plan again."""
    machine, goal, circuit, tariff = plan.inputs.names
    words = ["scullion", "plan", machine, goal]
    if circuit != plan.inputs.machine.usual_circuit:
        words += ["--circuit", circuit]
    if tariff != plan.inputs.machine.usual_tariff:
        words += ["--tariff", tariff]
    return words


def plan_to_dict(plan: Plan, certificate: Certificate, bound: LowerBound | None = None) -> dict[str, Any]:
    """Give a plan, its proof and its lower bound, if that was asked for, as plain data."""
    inputs, solve, constants = plan.inputs, plan.solve, plan.constants
    return {
        "names": dict(zip(PROFILE_KINDS, inputs.names, strict=True)),
        "inputs_sha256": constants.input_sha256,
        "meant_for": inputs.meant_for,
        "currency": inputs.tariff.currency,
        "run": {key: plain(value) for key, value in asdict(plan.costs).items()},
        "duration_longest_min": longest_min(certificate.rows),
        "available_a": plain(inputs.circuit.available_a),
        "start_drain_s": constants.start_drain_s,
        "gap_s": constants.gap_s,
        "stand_s": constants.stand_s,
        "control": constants.control,
        "fill_control": constants.fill_control,
        "detergent": doses_to_list(plan),
        "rounds": rounds_to_list(plan, certificate.trace),
        "certificate": certificate_to_dict(certificate),
        "on_the_ware": last_film_to_dict(plan, certificate),
        "solver": {"name": solve.solver, "status": solve.status},
        "lower_bound": None
        if bound is None
        else {
            "rounds_most": list(bound.rounds_most),
            "least": plain(bound.least),
            "cost": plain(bound.cost),
            "gap": plain(bound.gap),
        },
        "guards": list(guards_to_buy(plan, certificate)),
        "guards_besides": f"{MORE_GUARDS}: scullion check PLAN --faults",
        "cautions": [
            *cautions(
                plan.inputs,
                restarts=plan.constants.restart_after_cut,
                dosing=when_dosed(plan),
            ),
            *proof_cautions(certificate),
        ],
    }
