"""Drifts that a person asks a simulated run for, and what is none."""

from __future__ import annotations

import pytest

from optimizer.errors import InputError
from optimizer.review.consequences import CAUSES, KEYS, MEASURES
from optimizer.review.drifts import DRIFTING, Drift, drifted, read_drifts
from optimizer.review.machine_fit import UNSEEN


class TestDrifts:
    def test_a_share_and_a_number(self) -> None:
        assert read_drifts(["element=-10%", "inlet=+4"]) == (
            Drift("element", -0.1, True),
            Drift("inlet", 4.0, False),
        )
        table = drifted({"rated_w": 800.0, "inlet_c": 12.0}, read_drifts(["element=-10%", "inlet=+4"]))
        assert table == {"rated_w": 720.0, "inlet_c": 16.0}

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ("elemnt=-10%", "did you mean element?"),
            ("element=10%", "a signed number"),
            ("element", "a signed number"),
            ("element=-100%", "drifts by -95 %"),
            ("inlet=+10%", "by kelvin"),
            ("foo", "what drifts: voltage, element, wash_pump, inlet, room, flow, drain"),
            ("zzz=+1", "What drifts: voltage, element, wash_pump, inlet, room, flow, drain"),
            ("element=-nan%", "a signed number"),
            ("mechanics=+10%", "no quantity that drifts"),
        ],
    )
    def test_what_is_none(self, text: str, says: str) -> None:
        with pytest.raises(InputError) as refused:
            read_drifts([text])
        [issue] = refused.value.issues
        assert says in f"{issue.rule} {issue.fix}"

    def test_all_at_once_and_each_once(self) -> None:
        with pytest.raises(InputError) as refused:
            read_drifts(["element=-10%", "element=-20%", "x"])
        assert len(refused.value.issues) == 2

    @pytest.mark.parametrize("text", ["flow=-7", "inlet=-13", "room=+200"])
    def test_no_machine_is_so(self, text: str) -> None:
        with pytest.raises(InputError):
            drifted({"flow_l_per_min": 6.0, "inlet_c": 12.0, "room_c": 20.0}, read_drifts([text]))

    def test_each_quantity_that_may_be_outside_has_causes_and_a_key(self) -> None:
        said = set(DRIFTING) - set(UNSEEN)
        assert {word for word, _ in CAUSES} == said
        assert set(MEASURES) == said
        assert set(KEYS) | {"ware"} == said


def test_a_drift_past_what_water_may_be_names_those_that_are_possible() -> None:
    """0 to 95 °C (no source): from 12 °C on -12 to +83 K."""
    with pytest.raises(InputError) as caught:
        drifted({"inlet_c": 12.0}, read_drifts(["inlet=+84"]))
    (issue,) = caught.value.issues
    assert issue.fix == "between -12 and +83"
    assert drifted({"inlet_c": 12.0}, read_drifts(["inlet=+82.9"]))["inlet_c"] == pytest.approx(94.9)
