"""Which tests are run for a mutant of which file: the table of `mutants.py`."""

from __future__ import annotations

CHECK, EMIT = "optimizer/check", "optimizer/emit"
RUN = ("check_integrate", "film", "inlet_pipe", "drained_mass", "layered_bath", "check_equations")
BOUNDS = (
    "check_bounds_slopes",
    "check_bounds_by_hand",
    "check_bounds_points",
    "check_bounds_hold",
    "check_bounds_wander",
    "check_bounds_search",
)
ROWS = (*BOUNDS[1:3], "check_bounds_course", *BOUNDS[3:])
REQUIREMENTS = (
    "check_requirements_limits",
    "check_requirements_circuit",
    "check_requirements_temperatures",
    "check_requirements_levels",
    "check_requirements_doses",
)
LIMITS = ("emit_ranges", "emit_limits", "emit_watchdogs", "dry_top_up", "drain_temperature")
TESTS = {
    f"{CHECK}/bench_check.py": ("emit_bench_run",),
    f"{CHECK}/bound_box.py": BOUNDS[1:],
    f"{CHECK}/bound_course.py": ("check_bounds_course", *BOUNDS),
    f"{CHECK}/bound_doses.py": (*ROWS, "check_bounds_floors"),
    f"{CHECK}/bound_drains.py": ROWS,
    f"{CHECK}/bound_equations.py": (*BOUNDS[:2], "check_bounds_course", "check_bounds_heating", *BOUNDS[2:]),
    f"{CHECK}/bound_heating.py": ("check_bounds_heating", *BOUNDS),
    f"{CHECK}/bound_hold.py": ("check_bounds_hold_parts", "check_bounds_hold", *BOUNDS),
    f"{CHECK}/bound_kernel.py": ("check_bounds_twins", "check_bounds_slopes", "check_bounds_heating", *ROWS),
    f"{CHECK}/bound_kernel_batch.py": ROWS,
    f"{CHECK}/bound_kernel_doses.py": ("check_bounds_swing", *ROWS),
    f"{CHECK}/bound_kernel_heating.py": ("check_bounds_heating", *BOUNDS),
    f"{CHECK}/bound_kernel_hold.py": ("check_bounds_hold_parts", "check_bounds_hold", *BOUNDS),
    f"{CHECK}/bound_kernel_apart.py": ("check_bounds_swing", "check_bounds_hold", *BOUNDS),
    f"{CHECK}/bound_kernel_begun.py": ("check_bounds_trough", "check_bounds_swing", *BOUNDS),
    f"{CHECK}/bound_kernel_swing.py": ("check_bounds_swing", "check_bounds_hold", *BOUNDS),
    f"{CHECK}/bound_kernel_trough.py": ("check_bounds_trough", "check_bounds_hold", *BOUNDS),
    f"{CHECK}/bound_level_fill.py": ("check_bounds_level_fill", *BOUNDS),
    f"{CHECK}/bound_sides.py": BOUNDS,
    f"{CHECK}/bound_step_errors.py": ROWS,
    f"{CHECK}/bound_steps.py": ("check_bounds_course", *BOUNDS),
    f"{CHECK}/bound_ware_over.py": ("ware_step", *ROWS),
    f"{CHECK}/bound_rows.py": ROWS,
    f"{CHECK}/bound_drying.py": ROWS,
    f"{CHECK}/bound_aims.py": BOUNDS[:0:-1],
    f"{CHECK}/bound_asked.py": BOUNDS[:0:-1],
    f"{CHECK}/bound_by_reading.py": ("check_bounds_by_reading", *ROWS),
    f"{CHECK}/bound_leaves.py": BOUNDS[:0:-1],
    f"{CHECK}/bound_search.py": BOUNDS[:0:-1],
    f"{CHECK}/box.py": ("check_box", "check_worst_cases", "check_worst_points"),
    f"{CHECK}/brent.py": ("check_steps", "check_integrate"),
    f"{CHECK}/certificate.py": ("check_certificate", "report_certificate"),
    f"{CHECK}/certified.py": ("cautions", "report_certificate", "guards_to_buy"),
    f"{CHECK}/certify.py": ("check_phases", "check_table_rows", "height", "check_second_run",
                            "check_lethality", "check_worst_points", "check_certify"),
    f"{CHECK}/check_ahead.py": ("plan_and_prove",),
    f"{CHECK}/circuit_rows.py": ("check_requirements_circuit", "check_currents"),
    f"{CHECK}/controller_numbers.py": ("emit_ranges", "drain_numbers", "controller_still"),
    f"{CHECK}/courses.py": ("page_charts", "page_numbers"),
    f"{CHECK}/currents.py": ("check_currents", "published_electricity"),
    f"{CHECK}/detergent_rows.py": ("check_table_rows", *REQUIREMENTS, "drained_warm"),
    f"{CHECK}/dosing.py": ("emit_ranges", "check_table_rows"),
    f"{CHECK}/dosing_moment.py": ("faults_detergent", "emit_forms"),
    f"{CHECK}/drain_wait.py": ("drain_numbers", "drain_out_of_turn"),
    f"{CHECK}/equations.py": ("check_equations", "film", "steam_and_air", "height"),
    f"{CHECK}/equations_kernel.py": ("check_steps", *RUN, "steam_and_air", "height"),
    f"{CHECK}/equations_steps.py": ("check_steps", *RUN, "check_certify"),
    f"{CHECK}/fills.py": ("check_fills", "emit_ranges", "dry_top_up", "drain_temperature"),
    f"{CHECK}/heat_flows.py": ("page_numbers",),
    f"{CHECK}/integrate.py": (*RUN, "check_worst_cases", "check_second_run", "check_soak", "check_certify"),
    f"{CHECK}/least_heat.py": ("page_numbers",),
    f"{CHECK}/lethality.py": ("check_lethality", "published_hygiene", "soils"),
    f"{CHECK}/lethality_kernel.py": ("check_lethality", "published_hygiene", "soils"),
    f"{CHECK}/meters.py": ("check_meters", *REQUIREMENTS, "ware_step", "first_wash", "drained_warm",
                              "drain_temperature"),
    f"{CHECK}/meters_kernel.py": ("check_meters", *REQUIREMENTS),
    f"{CHECK}/phases.py": ("check_phases", "check_soak"),
    f"{CHECK}/requirements.py": (*REQUIREMENTS, "height", "check_soak", "check_second_run", "drained_warm",
                                 "drain_temperature", "report_certificate"),
    f"{CHECK}/residue.py": ("last_film", *REQUIREMENTS, "check_bounds_points", "drained_warm"),
    f"{CHECK}/second_run.py": ("check_second_run",),
    f"{CHECK}/sensor_meter.py": ("check_meters", "layered_bath", "controller_still", "emit_ranges",
                                 "check_table_rows"),
    f"{CHECK}/soak_rows.py": ("check_soak",),
    f"{CHECK}/table_rows.py": ("check_table_rows", "height", "open_loop"),
    f"{CHECK}/trace_rounds.py": ("report_plan", "review_rounds"),
    f"{CHECK}/trip_range.py": ("trip_range", "guards_to_buy"),
    f"{CHECK}/worst_cases.py": ("check_worst_cases", "height", "steam_and_air"),
    f"{CHECK}/worst_points.py": ("check_worst_inside", "check_worst_points"),
    f"{EMIT}/detergent_limits.py": LIMITS,
    f"{EMIT}/limits.py": LIMITS,
    f"{EMIT}/setpoint_limits.py": ("emit_ranges", "emit_setpoints", *LIMITS[1:]),
    f"{EMIT}/shared_limits.py": LIMITS,
    f"{EMIT}/soak_limits.py": LIMITS,
}  # fmt: skip
"""Tests by the file that they test, the quickest first: `tests/test_NAME.py`."""

COMPILED = ("_kernel", "bound_sides")
"""Parts of the names of the files that compiled functions are made of. After a change of one all is compiled
anew; of any other file nothing is in them, and they are kept from mutant to mutant."""

LONG = (
    "check_bounds_search.py::test_a_second_simulator_breaks_nothing_that_is_guaranteed",
    "check_certify.py::test_a_sound_programme_passes",
    "check_certify.py::test_no_draw_is_worse_than_the_worst_found",
    "check_certify.py::test_the_same_plan_gives_the_same_certificate",
    "check_fills.py::test_longest_fill_does_not_run_over_however_hot",
    "check_table_rows.py::test_an_edit_that_no_sound_run_would_show_is_refused",
    "controller_still.py::test_a_usual_machine_keeps_the_usual_ten_minutes",
)
"""Tests left out because they take long: a mutant that they alone would notice counts as alive."""
