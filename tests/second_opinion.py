"""A second simulator of the controller's table, written from the documents and the profiles' comments alone.

It shares no code with planner, check or physics: it steps the table second by second for many points of the
tolerances at once (`second_opinion_run.py`, `second_opinion_formulas.py`). A point gives every measured
quantity one number; a dry start is a switch of its own. What the documents leave open is marked *open*.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from second_opinion_formulas import WEIGHED_KG_PER_L, Numbers, vaporisation_j_per_kg
from second_opinion_run import OFF, Meters, Outputs, Run
from tolerance_box import SENSOR

from optimizer.profile.goal import DRYING_C, Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants, Round


def judged(m: Meters, goal: Goal) -> dict[str, tuple[Numbers, bool]]:
    """By the certificate's key: the values of all points, and whether the least of them is the worst."""
    found = {f"dose.{name}": (dose_min, True) for name, dose_min in m.dose_min.items()}
    found |= {"hygiene.a0": (m.a0_s, True), "hygiene.hue": (m.heat_units, True)}
    found |= {"rinse.residue": (m.residue, False), "rinse.soil": (m.soil, False)}
    found |= {"rinse.film_mg_per_l": (m.film_mg_per_l, False), "tank.bath_c": (m.hottest_c, False)}
    found |= {"prerinse.bath_c": (m.hottest_prerinse_c, False), "overflow.level_l": (m.most_l, False)}
    found |= {"drain.bath_c": (m.hottest_drained_c, False)}
    found |= {"cover.element_l": (m.least_element_l, True), "cover.suction_l": (m.least_pump_l, True)}
    found |= {"limits.duration_min": (m.duration_min, False), "limits.water_l": (m.water_l, False)}
    found |= {"ware.drop_k": (m.drop_k, False), "ware.rise_k": (m.rise_k, False)}
    if goal.drying.method == "hot_rinse":
        found["drying.ware_heat"] = m.drying, True
    if goal.detergent is not None and goal.detergent.spray_least_c > 0.0:
        found["detergent.bath_c"] = m.coldest_end_c, True
    if goal.detergent is not None and goal.detergent.drain_least_c > 0.0:
        found["detergent.drain_c"] = m.coldest_drained_c, True
    if goal.limits.first_wash_most_c > 0.0:
        found["first_wash.bath_c"] = m.first_wash_c, False
    if goal.rinse.first_least_c > 0.0:
        found["first_rinse.bath_c"] = m.first_rinse_c, True
    return found


def simulate(
    table: Constants,
    machine: Machine,
    goal: Goal,
    points: Mapping[str, Numbers],
    dry: NDArray[np.bool_],
    chilled: Numbers | float = 0.0,
) -> Meters:
    """Run the table at every point; `dry` starts without carry-over.

    Rinses of an earlier run may have brought the tank all the way down to colder inlet water (`chilled` 1).

    The hottest bath may be that of a run begun as the last drain of this one ends, with a cold load, wet.
    """
    q = {name: np.asarray(value, dtype=float) for name, value in points.items()}
    run = Run(machine, goal, q, len(dry), switched=table.fill_control == "level")
    run.film_l = np.where(dry, 0.0, q["ware.film_l"])
    run.kg = np.where(dry, 0.0, (q["tank.residual_l"] + run.film_l) * WEIGHED_KG_PER_L) + 1e-6
    run.hung_kg = run.film_l * WEIGHED_KG_PER_L
    room_c, colder_c = q["room.air_c"], np.minimum(q["room.air_c"], q["inlet.water_c"])
    run.bath_c = np.asarray((1.0 - chilled) * room_c + chilled * colder_c)
    run.phase(float(table.start_drain_s), Outputs(other_w=q["drain_pump.power_w"]))
    last_wash = max((i for i, row in enumerate(table.rounds) if row.kind == "wash"), default=0)
    # What is in the machine: all soil of the last wash, and grams of detergent. Liquor leaves as strong as
    # it is.
    soil, grams, wash_kg, film_kg = np.ones(run.n), np.zeros(run.n), np.ones(run.n), np.ones(run.n)
    for number, row in enumerate(table.rounds):
        full_kg = _round(run, row, table)
        if row.kind == "steam":
            continue
        grams = (grams + row.detergent_dg / 10.0) * run.kg / full_kg
        wash_kg = full_kg if number == last_wash else wash_kg
        film_kg = run.kg.copy()
        if number >= last_wash and row.kind in ("wash", "rinse"):
            soil = soil * run.kg / full_kg
    run.meters.soil = soil
    # Over the last wash, in which all of it was in its whole bath.
    run.meters.residue = soil / film_kg * wash_kg
    run.meters.film_mg_per_l = 1000.0 * grams / film_kg * WEIGHED_KG_PER_L
    # The film is weighed, so that its litres are kilograms.
    film_j = q["ware.film_l"] * float(vaporisation_j_per_kg(DRYING_C))
    run.meters.drying = run.ware_j_per_k * (run.ware_c - q["room.air_c"]) / film_j
    again = Run(machine, goal, q, run.n, switched=run.switched)
    again.film_l, again.kg, again.bath_c = q["ware.film_l"].copy(), run.kg.copy(), run.bath_c.copy()
    again.hung_kg = again.film_l * WEIGHED_KG_PER_L
    again.phase(float(table.start_drain_s), Outputs())
    for row in table.rounds:
        _round(again, row, table)
    hottest = "hottest_c", "hottest_prerinse_c", "first_wash_c", "hottest_drained_c", "drop_k", "rise_k"
    for name in hottest:
        setattr(run.meters, name, np.maximum(getattr(run.meters, name), getattr(again.meters, name)))
    return run.meters


def _round(run: Run, row: Round, table: Constants) -> Numbers:
    """Fill, heat, spray, rest, drain; gives what the round was filled to [kg]."""
    run.row, run.detergent, run.wet, set_c = row, False, False, None
    run.pumped_s = np.zeros(run.n)
    gap_s = float(table.gap_s)
    if row.setpoint_dc > 0:
        set_c = row.setpoint_dc / 10.0 - run.q.get(SENSOR, np.zeros(run.n))
    run.phase(gap_s, OFF)
    # What stands in the pipe has the temperature of the room, and comes in first.
    pipe_s, fed_s = _fill_s(run, row)
    run.phase(pipe_s, Outputs(inlet=True, other_w=run.machine.inlet.valve_w, in_c=run.q["room.air_c"]))
    run.phase(fed_s, Outputs(inlet=True, other_w=run.machine.inlet.valve_w))
    full_kg = run.kg.copy()
    run.detergent = row.detergent_dg > 0
    if row.heat_s:
        run.phase(gap_s, OFF)
        # Pump off, the bath is in layers: the sensor sits in warmer water than the mean, the top is warmest.
        mean_c = None if set_c is None else set_c - run.q["element.sensor_over_mean_k"]
        top_k = run.q["element.top_over_mean_k"]
        run.phase(row.heat_s, Outputs(element_s=row.heat_s, set_c=mean_c, until_set=set_c is not None,
                                      top_k=top_k))  # fmt: skip
    if row.spray_s:
        run.phase(gap_s, OFF)
        # *Open*: what of a round counts; here all from the start of its spray, which brings the liquor to
        # the ware, to the end of its drain, for doses (as a soak where the spray is off) and for hygiene.
        run.wet = True
        if row.kind == "wash" and not np.isfinite(run.meters.first_wash_c).any():
            run.meters.first_wash_c = run.bath_c.copy()
        element_s, hysteresis_k = float(row.spray_element_s), table.hysteresis_dk / 10.0
        run.phase(element_s, Outputs(pump=True, element_s=element_s, set_c=set_c, hysteresis_k=hysteresis_k))
        after_s = float(table.after_soak_s if row.soak_s else 0)
        run.phase(row.spray_s - after_s - element_s, Outputs(pump=True))
        run.pump_stops()
        if row.kind == "rinse" and not np.isfinite(run.meters.first_rinse_c).all():
            run.meters.first_rinse_c = run.bath_c.copy()
        if row.soak_s:
            run.film_l = run.q["ware.film_l"].copy()
            run.phase(gap_s, OFF)
            run.phase(row.soak_s, OFF)
            run.phase(gap_s, OFF)
            run.phase(after_s, Outputs(pump=True))
            run.pump_stops()
        run.film_l = run.q["ware.film_l"].copy()
    if row.rest_s:
        run.phase(gap_s, OFF)
        run.phase(row.rest_s, OFF)
    run.unmixed_from_c = None
    if row.top_up_s:
        _top_up(run, row, gap_s, full_kg)
    run.phase(gap_s, OFF)
    if row.detergent_dg:
        run.meters.coldest_drained_c = np.minimum(run.meters.coldest_drained_c, run.bath_c)
    run.drain(row.drain_s)
    return full_kg


def _top_up(run: Run, row: Round, gap_s: float, full_kg: Numbers) -> None:
    """Cold water before the drain, by time alone; from then on nothing cleans, and nothing is thinned.

    What is left in the pipe of a hot feed counts as hot. A minute of the pump stirs it in. What had
    evaporated has all run back from the lid by then, as warm as the bath (docs/guarantee.md).
    """
    run.wet = False
    run.phase(gap_s, OFF)
    run.kg = np.maximum(run.kg, full_kg)
    before_c = run.bath_c.copy()
    pipe_s = np.minimum(run.q["inlet.pipe_l"] / (run.q["inlet.flow_l_per_min"] / 60.0), float(row.top_up_s))
    pipe_c = np.maximum(run.q["room.air_c"], run.q["inlet.water_c"])
    run.phase(pipe_s, Outputs(inlet=True, other_w=run.machine.inlet.valve_w, in_c=pipe_c))
    run.phase(row.top_up_s - pipe_s, Outputs(inlet=True, other_w=run.machine.inlet.valve_w))
    if row.mix_s:
        run.phase(gap_s, OFF)
        run.phase(row.mix_s, Outputs(pump=True))
        run.pump_stops()
    if row.mix_s < 60:
        run.unmixed_from_c = before_c


def _fill_s(run: Run, row: Round) -> tuple[Numbers, Numbers]:
    """Seconds with water of the pipe, and with water of the feed.

    *Open*: whether a level switch sees the film on the ware; here it does not.
    """
    l_per_s, pipe_l = run.q["inlet.flow_l_per_min"] / 60.0, run.q["inlet.pipe_l"]
    open_s = np.full(run.n, float(row.fill_s))
    if run.switched:
        missing_l = run.q["inlet.level_l"] + run.film_l - run.litres
        open_s = np.clip(missing_l / l_per_s, 0.0, open_s)
    pipe_s = np.minimum(pipe_l / l_per_s, open_s)
    return pipe_s, open_s - pipe_s
