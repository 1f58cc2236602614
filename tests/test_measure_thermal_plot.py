"""Pictures of the logs: one a test, the same bytes each time, whatever a test is called."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from optimizer.measure.thermal_test import Course, ThermalFit

pytest.importorskip("matplotlib")

from optimizer.measure.thermal_plot import plot_logs


def course(test: str, probe: str = "bath") -> Course:
    time_s = np.arange(0.0, 600.0, 10.0)
    fitted_c = 20.0 + 40.0 * np.exp(-time_s / 4000.0)
    left_out = np.arange(60) == 30
    read_c = fitted_c + 0.05 * np.sin(time_s) + 500.0 * left_out
    return Course(test, probe, time_s, read_c, fitted_c, np.full(60, 0.1), left_out)


def test_one_picture_a_test_and_the_same_bytes(tmp_path: Path) -> None:
    fit = ThermalFit((), courses=(course("hot pour"), course("load"), course("load", "ware")))
    first = plot_logs(fit, tmp_path / "a" / "b")
    assert [path.name for path in first] == ["01-hot-pour.png", "02-load.png"]
    again = plot_logs(fit, tmp_path / "again")
    for one, other in zip(first, again, strict=True):
        assert one.read_bytes() == other.read_bytes()
        assert one.read_bytes().startswith(b"\x89PNG")
        assert b"matplotlib" not in one.read_bytes().lower()


@pytest.mark.parametrize("name", ["$x$ _^{", "../../etc/passwd", "Spüle ∞", "%" * 300, ""])
def test_any_name_is_drawn_and_stays_in_the_folder(tmp_path: Path, name: str) -> None:
    (path,) = plot_logs(ThermalFit((), courses=(course(name),)), tmp_path)
    assert path.parent == tmp_path
    assert path.stat().st_size > 5000


def test_what_was_left_out_does_not_set_the_scale_of_the_residuals() -> None:
    from optimizer.measure.thermal_plot import _span_k

    low_k, high_k = _span_k([course("x")])
    assert -low_k == high_k == pytest.approx(0.12)
