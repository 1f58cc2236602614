"""A golden certificate: a programme filled to a level switch and held by a thermostat, row by row.

*No published source*: what is kept is what the check said when the rest of its tests held; a change shows
here where no other test looks. `SCULLION_GOLDEN=write` writes the file anew; look at the difference.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from check_cases import THERMOSTAT, a_round, circuit, goal, machine, programme

from optimizer.check.certify import check

KEPT = Path(__file__).parent / "golden" / "level_switch.txt"


def test_its_certificate_is_the_one_that_was_kept() -> None:
    wash = a_round("wash", fill_s=200, spray_s=1500, spray_element_s=1300, setpoint_dc=500, detergent_dg=300)
    rinse = a_round("rinse", fill_s=200, heat_s=900, spray_s=150, setpoint_dc=400)
    table = programme(
        a_round("prerinse", fill_s=200, spray_s=150), wash, rinse, a_round("rinse", fill_s=200, spray_s=150),
        control="thermostat", fill_control="level", hysteresis_dk=10,
    )  # fmt: skip
    rows = check(table, machine(THERMOSTAT), goal(), circuit()).rows
    if os.environ.get("SCULLION_GOLDEN") == "write":
        lines = (f"{row.key} {row.limit:.9g} {row.guaranteed:.9g} {row.worst:.9g}\n" for row in rows)
        KEPT.write_text("".join(lines), encoding="utf-8")
    kept = [line.split() for line in KEPT.read_text(encoding="utf-8").splitlines()]
    assert [row.key for row in rows] == [key for key, *_ in kept]
    for row, (key, *numbers) in zip(rows, kept, strict=True):
        found = (row.limit, row.guaranteed, row.worst)
        assert found == pytest.approx([float(number) for number in numbers], rel=1e-6, abs=1e-9), key
