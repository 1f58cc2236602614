"""What the planner says of rinsing and drying against published formulas.

The check's rows are held against the same formulas in test_check_requirements_doses.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS97
from planner_cases import tiny

from optimizer.physics.water import steam_j_per_l
from optimizer.planner.margins import Assessor
from optimizer.planner.structure import Mode, Programme, Settings, Structure
from optimizer.programme.constants import KINDS
from optimizer.units import L_PER_M3, S_PER_MIN

FLOW_L_PER_MIN = 6.0
RESIDUE_MAX = 0.02
EXACT = {
    "machine__inlet__flow_l_per_min": FLOW_L_PER_MIN,
    "machine__tank__residual_l": 0.4,
    "machine__ware__film_l": 0.6,
    "machine__tank__capacity_l": 60.0,
    "goal__rinse__residue_max": RESIDUE_MAX,
}
"""A machine with a carry-over of exactly 1 l."""


def residue(fills_l: list[float]) -> float:
    """Concentration after so many rinses over that of the wash, read out of the planner's margin."""
    wash_l = 10.0
    assessor = Assessor(tiny(**EXACT))
    kinds = (KINDS.index("prerinse"), KINDS.index("wash"), *(KINDS.index("rinse") for _ in fills_l))
    fill_s = np.array([[10.0, wash_l, *fills_l]]) / FLOW_L_PER_MIN * S_PER_MIN
    same = np.full_like(fill_s, 120.0)
    settings = Settings(
        fill_s, np.zeros_like(fill_s), same, np.full_like(fill_s, np.inf), 0.0 * fill_s, 0.0 * fill_s
    )
    structure = Structure(kinds, (Mode.UNHEATED,) * len(kinds))
    margins, _ = assessor.run(Programme(structure, settings))
    decades = math.log10(RESIDUE_MAX)
    margin = float(margins["rinse.residue"][0, 0]) + assessor.backoff("rinse.residue")
    return 10.0 ** (decades + decades * margin)


# (1 + r)^-n, Gold Book F02503 with a distribution ratio of 1 (Pure Appl. Chem. 65 (1993) 2373); mapping ours.
DILUTION = [
    (9.0, (0.1, 0.01, 0.001)),
    (4.0, (0.2, 0.04, 0.008)),
    (19.0, (0.05, 0.0025, 1.25e-4)),
]


@pytest.mark.parametrize(("ratio", "residues"), DILUTION)
def test_dilution_vectors(ratio: float, residues: tuple[float, ...]) -> None:
    for exchanges, expected in enumerate(residues, start=1):
        assert residue([ratio] * exchanges) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("exchanges", "expected"), [(1, 4.76e-2), (2, 8.26e-3), (3, 2.22e-3), (4, 7.72e-4)])
def test_split_of_a_fixed_total(exchanges: int, expected: float) -> None:
    """20 times the carry-over, split into 1–4 exchanges (computed from the same formula)."""
    assert residue([20.0 / exchanges] * exchanges) == pytest.approx(expected, rel=1e-3)


def test_plating_practice() -> None:
    """1000:1, a ratio of concentrations, is where rinsing of plated parts starts (secondary source).

    Three rinses at r = 9 do it, after a wash of any size: its own drain thins nothing.
    """
    assert 1.0 / residue([9.0] * 3) == pytest.approx(1000.0, rel=1e-9)


@given(fills_l=st.lists(st.floats(0.5, 20.0), min_size=1, max_size=4))
def test_no_split_beats_equal_parts(fills_l: list[float]) -> None:
    """Inequality of the arithmetic and the geometric mean."""
    equal_l = sum(fills_l) / len(fills_l)
    assert residue([equal_l] * len(fills_l)) <= residue(fills_l) * (1.0 + 1e-9)


class TestDrying:
    """Energy balances with the heat of vaporisation of IAPWS-IF97."""

    def test_boiling_a_litre_away(self) -> None:
        boiling = IAPWS97(T=373.15, x=0)
        h_fg = IAPWS97(T=373.15, x=1).h - boiling.h
        assert pytest.approx(1000.0 * h_fg * boiling.rho / L_PER_M3, rel=1e-3) == steam_j_per_l(100.0)

    def test_a_kilowatt_on_an_inch_of_water(self) -> None:
        """Common practice, no source: a steam dry heats about an inch. In 0.1 m² it lasts over an hour."""
        pool_l = 0.0254 * 0.1 * L_PER_M3
        assert pool_l * steam_j_per_l(100.0) / 1000.0 / S_PER_MIN == pytest.approx(92.0, rel=0.02)

    def test_ware_heat_over_film(self) -> None:
        """4 kg of porcelain (1050 J/(kg K), handbook) at 65 °C hold heat for a third of 0.25 kg of film.

        The planner's least temperature for that share, in a room of 20 °C. It takes the heat of vaporisation
        at 60 °C, half a per cent more than at 65 °C.
        """
        h_fg = IAPWS97(T=338.15, x=1).h - IAPWS97(T=338.15, x=0).h
        share = 4.0 * 1.05 * 45.0 / (0.25 * h_fg)
        assert share == pytest.approx(0.32, abs=5e-3)
        changes = {
            "machine__ware__porcelain_kg": 4.0,
            "machine__ware__film_l": 0.25,
            "machine__room__air_c": 20.0,
            "goal__drying": {"method": "hot_rinse", "heat_factor": share},
        }
        assessor = Assessor(tiny(**changes))
        over_k = (assessor.dry_c() - 20.0) / (1.0 + assessor.backoff("drying.ware_heat"))
        assert over_k == pytest.approx(45.0, rel=6e-3)
