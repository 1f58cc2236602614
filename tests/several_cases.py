"""Several programmes of one machine for the tests: hand-made ones, and quick ones for the controllers."""

from __future__ import annotations

from dataclasses import replace

from controller_cases import QUICK, SWITCHED, quick_plan, switched_plan
from plan_cases import HOT_RINSE, PRERINSE, RINSE, WASH, plan_case, thermostat_plan

from optimizer.emit.bench_run import bench_run
from optimizer.programme.constants import Round
from optimizer.programme.plan import Plan


def timed() -> dict[str, Plan]:
    """An everyday programme, one of other rounds, one without any heat, and a rehearsal."""
    everyday = plan_case()
    short = plan_case(replace(WASH, heat_s=900, rest_s=30), RINSE, HOT_RINSE, gap_s=3, stand_s=1500)
    cold = plan_case(PRERINSE, replace(WASH, heat_s=0, spray_element_s=0, rest_s=0), RINSE, RINSE)
    return {"everyday": everyday, "eco-2": short, "cold": cold, "rehearsal": bench_run(everyday)}


def by_thermostat() -> dict[str, Plan]:
    """The same for a machine with a thermostat and a level switch."""
    plan = thermostat_plan()
    rows = (plan.constants.rounds[1], plan.constants.rounds[3])
    short = replace(plan, constants=replace(plan.constants, rounds=rows, hysteresis_dk=20, bath_max_dc=690))
    return {"everyday": plan, "short": short, "rehearsal": bench_run(plan)}


CASES = {"timed": timed, "thermostat": by_thermostat}

OTHER_QUICK = (
    Round("wash", 6, 9, 12, 5, 0, 4, 8, 33, top_up_s=3, mix_s=4),
    Round("rinse", 4, 0, 5, 0, 0, 0, 7, 0),
)
COLD_QUICK = (Round("prerinse", 3, 0, 4, 0, 0, 0, 7, 0), Round("rinse", 4, 0, 4, 0, 0, 0, 7, 0))


def quick() -> dict[str, Plan]:
    """Programmes of short phases, with pauses and drains of their own."""
    first = quick_plan(QUICK)
    return {
        "first": first,
        "second": quick_plan(OTHER_QUICK, gap_s=4, start_drain_s=11, stand_s=3),
        "cold": quick_plan(COLD_QUICK, gap_s=1, stand_s=0),
        "rehearsal": bench_run(first),
    }


def switched() -> dict[str, Plan]:
    """The same for a machine with a thermostat and a level switch."""
    first = switched_plan()
    short = replace(first.constants, rounds=SWITCHED[1:], gap_s=3, hysteresis_dk=20, after_soak_s=0)
    return {
        "first": first,
        "second": replace(first, constants=short),
        "rehearsal": bench_run(first),
    }
