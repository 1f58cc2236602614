"""Cases that are long and have a quicker one of their kind beside them: marked slow, and run by `.ci/run`."""

LONG_CASES = frozenset(
    {
        "test_bad_input_exit.py::test_closed_standard_output[show plan.json]",
        "test_bad_input_exit.py::test_closed_standard_output[starts plan.json]",
        "test_bad_input_exit.py::test_closed_standard_output[constants plan.json --format c]",
        "test_library.py::test_the_least_arguments_are_taken",
        "test_planner_interrupts.py::test_a_frontier_keeps_the_points_found_before",
        "test_planner_practice.py::TestOilyWare::test_hot_water_from_the_tap_is_heat",
        "test_planner_reasons.py::test_the_nearest_value_is_the_nearest[tank]",
        "test_planner_reasons.py::test_the_nearest_value_is_the_nearest[drying]",
        "test_planner_reasons.py::test_the_nearest_value_is_the_nearest[duration of a heated programme]",
        "test_planner_shipped.py::test_proven_or_explained[clubhouse/eco-everyday]",
        "test_planner_shipped.py::test_proven_or_explained[clubhouse/glasses]",
        "test_planner_shipped.py::test_proven_or_explained[cold-shed/nursery]",
        "test_planner_shipped.py::test_proven_or_explained[garage-120v/roasting-tins]",
        "test_planner_shipped.py::test_proven_or_explained[garage-120v/steamed-glasses]",
        "test_planner_shipped.py::test_proven_or_explained[narrowboat/nursery]",
        "test_planner_simulate.py::TestAgainstTheCheck::test_worst_dose_within_1_pct[clubhouse/roasting-tins]",
        "test_planner_simulate.py::TestAgainstTheCheck::test_worst_dose_within_1_pct[narrowboat/roasting-tins]",
        "test_planner_simulate.py::TestAgainstTheCheck::test_electricity_within_1_pct[clubhouse/roasting-tins]",
        "test_planner_simulate.py::TestAgainstTheCheck::test_electricity_within_1_pct[narrowboat/roasting-tins]",
        "test_planner_solver.py::TestBudget::test_a_shipped_profile_takes_a_tenth_of_the_budget",
        "test_planner_solver.py::TestBudget::test_more_work_comes_nearer[cbc-budgets1]",
        "test_whatif_explain.py::test_the_next_best_is_the_second_of_all_structures",
    }
)
"""By file, and as pytest names them."""
