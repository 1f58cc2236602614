"""Sets of constants for the tests of the forms: the hand-made plans, and any well-formed table."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import strategies as st
from plan_cases import (
    cold_plan,
    machine_profile,
    plan_case,
    soaked_plan,
    steam_plan,
    thermostat_plan,
    topped_plan,
)

from optimizer.emit.bench_run import bench_run
from optimizer.emit.forms import FORMS
from optimizer.emit.sheet import Sheet
from optimizer.programme.constants import KINDS, Constants, Round
from optimizer.programme.plan import Plan

PLANS = {
    "timed": plan_case,
    "thermostat": thermostat_plan,
    "cold": cold_plan,
    "soaked": soaked_plan,
    "steam": steam_plan,
    "topped": topped_plan,
    "bench": lambda: bench_run(plan_case()),
    "bench of steam": lambda: bench_run(steam_plan()),
    "bench of a soak": lambda: bench_run(soaked_plan()),
    "bench of a top-up": lambda: bench_run(topped_plan()),
}


def in_every_form(plan: Plan) -> dict[str, str]:
    """A plan's file in every form. What stands in them is worked out once: it takes nearly all the time."""
    sheet = Sheet.of_plan(plan)
    return {name: form.write(sheet) for name, form in FORMS.items()}


SHORT = st.integers(0, 9000)
AFTER_SOAK_S = 60


@st.composite
def rounds(draw: st.DrawFn) -> Round:
    """Any well-formed round of a timed programme."""
    kind = draw(st.sampled_from(KINDS))
    spray_s = 0 if kind == "steam" else draw(st.integers(1, 9000))
    soaks = kind == "wash" and spray_s > AFTER_SOAK_S and draw(st.booleans())
    top_up_s = draw(st.integers(1, 9000)) if draw(st.booleans()) else 0
    return Round(
        kind=kind,
        fill_s=draw(st.integers(1, 9000)),
        heat_s=draw(st.integers(1 if kind == "steam" else 0, 9000)),
        spray_s=spray_s,
        spray_element_s=draw(st.integers(0, spray_s - AFTER_SOAK_S * soaks)),
        setpoint_dc=0,
        soak_s=draw(st.integers(1, 9000)) if soaks else 0,
        rest_s=draw(SHORT),
        top_up_s=top_up_s,
        mix_s=draw(SHORT) if top_up_s and kind != "steam" else 0,
        drain_s=draw(st.integers(1, 9000)),
        detergent_dg=draw(st.integers(0, 65535)),
    )


@st.composite
def tables(draw: st.DrawFn) -> Constants:
    """Any well-formed table, timed or with a thermostat, filled by time or by level.

    A thermostat has a gap of a kelvin or more: without one its simulation would switch for ever.
    """
    rows = sorted(draw(st.lists(rounds(), min_size=1, max_size=8)), key=lambda row: KINDS.index(row.kind))
    thermostat = draw(st.booleans())
    if thermostat:
        setpoint = st.integers(1, 750)
        rows = [row if row.kind == "steam" else replace(row, setpoint_dc=draw(setpoint)) for row in rows]
    return Constants(
        start_drain_s=draw(st.integers(1, 65535)),
        gap_s=draw(st.integers(1, 65535)),
        after_soak_s=AFTER_SOAK_S if any(row.soak_s for row in rows) else 0,
        rounds=tuple(rows),
        stand_s=draw(st.integers(0, 65535)),
        control="thermostat" if thermostat else "timed",
        fill_control=draw(st.sampled_from(("timed", "level"))),
        hysteresis_dk=draw(st.integers(10 if thermostat else 0, 65535)),
        bath_max_dc=draw(st.integers(750, 65535)),
        input_sha256=draw(st.text("0123456789abcdef", min_size=64, max_size=64)),
    )


def plan_of(constants: Constants) -> Plan:
    """Put any table into a plan of the hand-made machine that has its kind of inlet and element."""
    machine = machine_profile(
        level=constants.fill_control == "level", thermostat=constants.control == "thermostat"
    )
    return replace(plan_case(machine=machine), constants=constants)
