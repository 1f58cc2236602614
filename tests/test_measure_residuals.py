"""What went wrong on the bench is said in words: one fault a book."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from exploring import TIMES
from thermal_cases import PROTOCOL, Truth, fitted, logs, outside

from optimizer.errors import InputError
from optimizer.measure.thermal_test import ThermalTest

FOUR = [step for step in PROTOCOL if not step.ware_in]
"""The protocol without the load: enough for what follows."""


def changed(
    tests: list[ThermalTest], name: str, change: Callable[[np.ndarray], np.ndarray]
) -> list[ThermalTest]:
    return [
        replace(test, log=replace(test.log, bath_c=change(test.log.bath_c))) if test.name == name else test
        for test in tests
    ]


def test_a_knocked_probe_and_a_step_are_named_and_do_no_harm() -> None:
    """Three readings 5 K off in the pour; 0.4 K less from 5 min on in the cooling."""

    def knocked(bath_c: np.ndarray) -> np.ndarray:
        return np.concatenate([bath_c[:30], bath_c[30:33] - 5.0, bath_c[33:]])

    def stepped(bath_c: np.ndarray) -> np.ndarray:
        return bath_c - 0.4 * (np.arange(len(bath_c)) >= 30)

    tests = changed(changed(logs(Truth(), 1, FOUR), "pour", knocked), "cooling", stepped)
    fit = fitted(tests)
    assert any(
        '"pour"' in words and "3 readings are far" in words and "5.0 min" in words for words in fit.remarks
    )
    step = next(words for words in fit.remarks if "a step" in words)
    assert '"cooling"' in step
    assert "at 5.0 min" in step
    assert "lid opened" in step
    size = float(step.split("step of ")[1].split(" K")[0])
    assert size == pytest.approx(-0.4, abs=0.1)
    assert outside(fit) == []


def test_a_wrong_water_mass_is_named_with_the_mass() -> None:
    """6.5 kg in the tank where the book says 5."""
    truth = Truth(water_kg={"pour": 6.5, "cooling": 6.5})
    with pytest.raises(InputError) as caught:
        fitted(logs(truth, 2))
    words = str(caught.value)
    assert '"pour" + "cooling" does not go with "pump alone" + "element" nor "ware still"' in words
    mass = float(words.split("its water is ")[1].split(" kg")[0])
    assert mass == pytest.approx(6.5, abs=0.4)


AGAIN = [
    replace(FOUR[2], name="pour again"),
    replace(FOUR[3], name="cooling again", follows="pour again"),
]
"""A second hot pour, and the cooling after it."""


def test_a_probe_that_drifts_is_named() -> None:
    """6 K an hour in one of two coolings: by itself it would be taken for a smaller loss."""
    tests = logs(Truth(drift_k_per_h={"cooling": 6.0}), 3, FOUR) + logs(Truth(), 5, AGAIN)
    with pytest.raises(InputError) as caught:
        fitted(tests)
    words = str(caught.value)
    assert '"pour" + "cooling" does not go with' in words
    assert "the probe in the bath drifts by +" in words


@pytest.mark.slow
def test_a_lid_opened_for_a_minute() -> None:
    """Losses eight times as high for a minute: a step down, and the loss is not taken for higher."""
    truth = Truth(lid_open={"cooling": (300.0, 380.0)})
    fit = fitted(logs(truth, 3, FOUR))
    assert any('"cooling"' in words and "was the lid opened" in words for words in fit.remarks)
    assert outside(fit) == []


@pytest.mark.slow
def test_a_lid_left_open_in_one_of_two_coolings() -> None:
    """Two coolings, the second with twice the loss: they cannot both be true, and both are named."""
    tests = logs(Truth(), 4, FOUR)
    leaky = Truth(values={**Truth().values, "tank.loss_still_w_per_k": 12.0})
    tests += logs(leaky, 5, AGAIN)
    with pytest.raises(InputError) as caught:
        fitted(tests)
    words = str(caught.value)
    assert '"pour again" + "cooling again"' in words
    assert '"pour" + "cooling"' in words
    assert "its loss with the pump off is" in words


@pytest.mark.slow
def test_a_room_that_was_another() -> None:
    """Read once, and 6 K too warm."""
    tests = [
        replace(t, room_c=t.room_c + 6.0, room_end_c=None) if t.name in ("pour", "cooling") else t
        for t in logs(Truth(), 6)
    ]
    try:
        words = " ".join(fitted(tests).remarks)
    except InputError as error:
        words = str(error)
    assert "its room is off by -" in words


@pytest.mark.slow
def test_no_false_alarm() -> None:
    """8 sound books, 20 with SCULLION_EXPLORE, half of them of wandering noise: none contradicts itself."""
    for seed in range(20 if TIMES else 8):
        fit = fitted(logs(Truth(wander_k=0.1 * (seed % 2)), 100 + seed, FOUR))
        assert [words for words in fit.remarks if "wander" not in words] == [], seed
