"""Thermal tests that cannot be what they say are refused before anything is fitted: one fault a test."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from thermal_cases import KNOWN, PROTOCOL, Truth, logs

from optimizer.errors import InputError
from optimizer.measure.thermal_input import LEAST_ROWS, LEAST_S, refuse_tests
from optimizer.measure.thermal_test import Known, ThermalTest
from optimizer.profile.measured import Measured

SOUND = logs(Truth(), 0, [replace(step, minutes=max(step.minutes, 6.0)) for step in PROTOCOL])


def issue(tests: list[ThermalTest], known: Known = KNOWN) -> str:
    with pytest.raises(InputError) as caught:
        refuse_tests(tests, known)
    (one,) = caught.value.issues
    return str(one)


def changed(name: str, **fields: object) -> list[ThermalTest]:
    return [replace(test, **fields) if test.name == name else test for test in SOUND]  # type: ignore[arg-type]


def test_sound_tests_pass() -> None:
    refuse_tests(SOUND, KNOWN)


@pytest.mark.parametrize(
    ("name", "fields", "words"),
    [
        ("cooling", {"follows": "nothing"}, "names no thermal test"),
        ("cooling", {"follows": "cooling"}, "goes round in a circle"),
        ("cooling", {"follows": "pump alone"}, 'is followed by "element" already'),
        ("cooling", {"ware_in": True}, "had the ware out"),
        ("pour", {"water_kg": 0.0}, "must be above 0 kg"),
        ("ware still", {"water_kg": 1.6}, "the ware (7.00 kJ/K) is heavier than its bath (6.69 kJ/K)"),
        ("cooling", {"ends_s": 60.0}, "is too short"),
        ("element", {"element_until_s": 0.0}, "element_until_s must be later"),
        ("element", {"element_from_s": 700.0, "element_until_s": 900.0}, "ends at 600.0 s"),
    ],
)
def test_refused(name: str, fields: dict[str, object], words: str) -> None:
    tests = changed(name, **fields)
    if name == "ware still":
        tests = [replace(test, water_kg=5.0) if test.name == "ware sprayed" else test for test in tests]
    assert words in issue(tests)


def test_two_tests_of_one_name() -> None:
    assert "is the name of two tests" in issue([*SOUND, SOUND[2]])


def test_a_short_log_is_told_how_long_is_needed() -> None:
    words = issue(changed("cooling", ends_s=LEAST_S - 1.0))
    assert "89.0 s" in words
    assert "log 12 min" in words


def with_log(name: str, change: Callable[[np.ndarray, np.ndarray], np.ndarray]) -> list[ThermalTest]:
    (test,) = (test for test in SOUND if test.name == name)
    log = replace(test.log, bath_c=change(test.log.time_s, test.log.bath_c))
    return changed(name, log=log)


def test_an_element_that_is_on_and_warms_nothing() -> None:
    words = issue(with_log("element", lambda time_s, bath_c: 22.0 + 0.0 * time_s))
    assert "element on with no warming" in words
    assert "unplugged" in words
    # 900 W for three quarters of 10 min in 25.4 kJ/K are 16 K (m c dT = P t), of which 15 % would do.
    refuse_tests(with_log("element", lambda time_s, bath_c: 22.0 + 0.2 * 16.0 * time_s / 450.0), KNOWN)


def test_close_to_the_boil() -> None:
    assert "close to the boil" in issue(with_log("pour", lambda time_s, bath_c: bath_c + 45.0))


def test_one_jump_is_no_boil() -> None:
    refuse_tests(with_log("pour", lambda time_s, bath_c: bath_c + 300.0 * (time_s == 200.0)), KNOWN)


def test_too_few_rows() -> None:
    (test,) = (test for test in SOUND if test.name == "cooling")
    rows = np.arange(0, len(test.log.time_s), 6)[: LEAST_ROWS - 1]
    few = replace(test.log, time_s=test.log.time_s[rows], bath_c=test.log.bath_c[rows])
    assert "too few rows" in issue(changed("cooling", log=few))


@pytest.mark.parametrize(
    ("known", "words"),
    [
        (replace(KNOWN, pump_w=None), "needs wash_pump.power_w"),
        (replace(KNOWN, ware_kj_per_k=None), "needs the masses in [ware]"),
        (replace(KNOWN, rated_v=None), "needs element.rated_v"),
    ],
)
def test_numbers_from_elsewhere(known: Known, words: str) -> None:
    with pytest.raises(InputError) as caught:
        refuse_tests(SOUND, known)
    assert all(words in str(one) for one in caught.value.issues)


def test_every_fault_is_told_at_once() -> None:
    tests = [replace(test, water_kg=-1.0) for test in SOUND]
    with pytest.raises(InputError) as caught:
        refuse_tests(tests, KNOWN)
    assert len(caught.value.issues) == len(SOUND)


def test_a_heavy_load_in_enough_water_passes() -> None:
    """12 kJ/K, some 12 kg of porcelain, in 5 kg of water: 21 kJ/K."""
    refuse_tests(SOUND, replace(KNOWN, ware_kj_per_k=Measured(nominal=12.0, low=11.0, high=13.0)))
