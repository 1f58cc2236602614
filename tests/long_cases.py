"""Cases that are long and have a quicker one of their kind beside them: marked slow, and run by `.ci/run`."""

LONG_CASES = frozenset(
    {
        "test_bad_input_exit.py::test_closed_standard_output[show plan.json]",
        "test_controller_faults.py::test_fault_is_seen_in_time_and_ends_in_the_safe_state[clubhouse-all-inlet shut]",  # noqa: E501
        "test_cli_explain.py::test_only_the_answer_goes_to_standard_output",
        "test_whatif_frontier.py::test_where_the_two_do_not_compete_there_is_one_plan",
        "test_planner_shipped.py::test_proven_or_explained[narrowboat/roasting-tins]",
        "test_starts_report.py::test_programme_and_start_together",
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
        "test_planner_solver.py::TestBudget::test_a_shipped_profile_takes_a_tenth_of_the_budget",
        "test_planner_solver.py::TestBudget::test_more_work_comes_nearer[cbc-budgets1]",
        "test_whatif_explain.py::test_the_next_best_is_the_second_of_all_structures",
        "test_batch_compare.py::test_two_jobs_give_the_same_bytes",
        "test_batch_stopped.py::test_workers_end_with_their_parent",
        "test_faults_any.py::test_any_programme_has_a_report",
        "test_planner_oracle.py::test_nothing_on_the_grid[no time to heat]",
        "test_plan_and_prove.py::TestGivingUp::test_what_is_kept_back_may_leave_no_plan",
        "test_plan_and_prove.py::TestSecondTry::test_shares_add_up",
        "test_starts_joint.py::test_the_programme_is_made_to_fit_the_hours_left",
        "test_batch_run.py::test_results_come_in_the_order_of_the_cases",
        "test_planner_iis.py::test_cbc_finds_the_same_iis",
        "test_planner_properties.py::test_fewer_rounds_are_enough_for_the_tiny_machine",
        "test_planner_properties.py::test_wider_tolerances_are_never_cheaper[thermostat-{'machine__element__sensor_error_k': 4.0}]",  # noqa: E501
        "test_planner_shipped.py::test_proven_or_explained[garage-120v/eco-everyday]",
        "test_planner_shipped.py::test_proven_or_explained[garage-120v/glasses]",
        "test_planner_shipped.py::test_proven_or_explained[narrowboat/eco-everyday]",
        "test_planner_shipped.py::test_proven_or_explained[narrowboat/glasses]",
        "test_planner_shipped.py::test_proven_or_explained[cold-shed/eco-everyday]",
        "test_planner_shipped.py::test_proven_or_explained[clubhouse/roasting-tins]",
        "test_planner_shipped.py::test_both_controls_and_both_heat_modes_are_among_them",
        "test_planner_oracle.py::test_no_programme_on_the_grid_is_cheaper[thermostat]",
        "test_planner_solver.py::TestBothSolvers::test_same_cost",
        "test_report_faults.py::test_no_line_is_wider_than_a_terminal",
        "test_batch_stopped.py::test_workers_leave_ctrl_c_to_their_parent_from_the_first_moment",
        "test_planner_properties.py::test_time_worth_nothing_never_costs_more_money[thermostat]",
        "test_planner_oracle.py::test_nothing_on_the_grid[no water to rinse]",
        "test_planner_practice.py::TestOilyWare::test_neither",
        "test_batch_run.py::test_worker_that_dies_without_a_case_is_replaced",
        "test_cli_faults.py::test_json_has_them_only_if_asked",
        "test_check_bounds_search.py::test_a_second_simulator_breaks_nothing_that_is_guaranteed[garage-120v-nursery]",
        "test_check_bounds_search.py::test_a_second_simulator_breaks_nothing_that_is_guaranteed[narrowboat-glasses]",
        "test_check_worst_points.py::test_none_of_all_combinations_is_worse[thermostat-water]",
        "test_check_worst_points.py::test_none_of_all_combinations_is_worse[thermostat-lag]",
        "test_check_worst_points.py::test_none_of_all_combinations_is_worse[thermostat-masses]",
        "test_check_certify.py::test_the_same_plan_gives_the_same_certificate[thermostat]",
        "test_library.py::test_a_comparison_without_workers_gives_what_the_command_gives",
        "test_batch_cluster.py::test_a_cluster_gives_the_answers_of_this_process",
        "test_check_every_number.py::test_one_step_past_its_limit_every_form_is_refused[clubhouse/everyday whole]",  # noqa: E501
        "test_check_certify.py::test_no_draw_is_worse_than_the_worst_found[thermostat]",
        "test_prove_plans.py::test_planner_and_check_take_two_roads_to_one_answer[clubhouse-roasting-tins]",
        "test_prove_plans.py::test_eco_is_the_same_cleaning_for_less",
        "test_check_bounds_search.py::test_the_same_input_gives_the_same_values_and_none_is_better_than_the_worst_found",
        "test_check_remeasured.py::test_goal_and_circuit_are_exchanged_and_a_tariff_changes_nothing",
        "test_bad_input_exit.py::test_closed_standard_output[plan cold-shed fresh-cups --out new.json]",
        "test_library.py::test_no_constants_of_a_plan_that_fails_its_check",
        "test_second_opinion.py::test_the_certificate_agrees_with_a_second_simulator[narrowboat-glasses]",
        "test_second_opinion.py::test_what_a_nominal_run_takes[narrowboat-glasses]",
        "test_check_worst_points.py::test_no_single_move_from_a_worst_point_makes_it_worse[thermostat-water]",
        "test_check_worst_points.py::test_no_single_move_from_a_worst_point_makes_it_worse[thermostat-masses]",
        "test_check_table_rows.py::test_what_is_edited_below_passes",
        "test_planner_iis.py::test_the_members_are_those_of_the_arithmetic[water, residue and prerinses]",
        "test_planner_iis.py::test_the_members_cannot_hold_and_can_without_any_one[water, residue and prerinses]",  # noqa: E501
        "test_check_certify.py::test_a_sound_programme_passes[thermostat]",
        "test_controller_faults.py::test_fault_is_seen_in_time_and_ends_in_the_safe_state[clubhouse-all-inlet open]",  # noqa: E501
        "test_planner_practice.py::TestHousehold::test_less_of_both_than_by_hand[garage-120v]",
        "test_planner_practice.py::TestHousehold::test_eco_everyday_against_the_benchmarks",
        "test_planner_practice.py::TestHeat::test_heat_of_every_heated_round_balances[clubhouse]",
        "test_check_certify.py::test_the_same_plan_gives_the_same_certificate[timed]",
        "test_planner_soak.py::test_the_element_is_off_in_a_soak_and_after_it",
        "test_starts_joint.py::test_no_programme_at_any_start_costs_less_than_the_bound",
        "test_check_every_number.py::test_one_step_past_its_limit_every_form_is_refused[clubhouse/everyday wash]",  # noqa: E501
        "test_faults_report.py::test_every_part_has_its_faults_and_no_part_that_is_not_there[thermostat and level switch]",  # noqa: E501
        "test_faults_report.py::test_without_a_fault_the_run_is_that_of_the_certificate[thermostat and level switch]",  # noqa: E501
        "test_restart.py::test_the_check_sees_it",
        "test_check_bounds_search.py::test_a_second_simulator_breaks_nothing_that_is_guaranteed[clubhouse-everyday]",
        "test_planner_properties.py::test_wider_tolerances_are_never_cheaper[level switch-{'machine__inlet__level_l': {'nominal': 5.5, 'tolerance_pct': 9.0}}]",  # noqa: E501
        "test_controller_faults.py::test_fault_is_seen_in_time_and_ends_in_the_safe_state[clubhouse-all-drain dead]",  # noqa: E501
        "test_controller_faults.py::test_with_restart_a_power_cut_in_any_state_cools_drains_and_begins_again[clubhouse]",
        "test_faults_report.py::test_nothing_is_said_of_an_element_that_is_not_there[thermostat and level switch]",  # noqa: E501
        "test_faults_report.py::test_guards_come_once_those_against_the_worst_first",
        "test_emit_watchdogs.py::test_a_thermostat_has_one_at_its_hottest_reading_and_not_at_the_limit_of_the_tank",
        "test_check_table_rows.py::test_an_edit_that_no_sound_run_would_show_is_refused[table6-watchdog.reading_c]",
        "test_check_certify.py::test_a_thermostat_holds_the_bath_between_its_two_switchings",
        "test_check_certify.py::test_a_sensor_error_shifts_the_bath",
        "test_planner_simulate_shipped.py::TestAgainstTheCheck::test_worst_dose_within_1_pct[garage-120v/everyday]",
        "test_planner_properties.py::test_time_worth_nothing_never_costs_more_money[level switch]",
        "test_planner_properties.py::test_price_dose_and_residue_on_a_tiny_machine",
        "test_check_worst_points.py::test_rows_are_the_fine_runs_of_the_worst_points",
    }
)
"""By file, and as pytest names them."""

LONG_FIXTURES = frozenset(
    {
        "test_whatif_explain.py::found",
        "test_whatif_frontier.py::found",
        "test_batch_compare.py::compared",
        "test_batch_cluster.py::compared",
        "test_whatif_upgrades.py::found",
        "test_planner_trim.py::unhurried",
        "test_planner_steam.py::planned",
        "test_whatif_upgrades.py::all_of_them",
        "test_whatif_upgrades.py::from_nothing",
    }
)
"""By file: what takes long to make, so that every test that needs it is a long one."""
