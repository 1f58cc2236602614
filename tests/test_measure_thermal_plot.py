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


def test_a_picture_shows_the_log_its_fit_its_band_and_the_residuals() -> None:
    from matplotlib.figure import Figure

    from optimizer.measure.thermal_plot import _draw

    one = course("x")
    above, below = Figure().subplots(2, 1)
    _draw(above, below, one)
    read, far, fitted = (line.get_xydata() for line in above.get_lines())
    kept = ~one.left_out
    assert np.array_equal(read, np.column_stack([one.time_s[kept] / 60.0, one.read_c[kept]]))
    assert np.array_equal(far, np.column_stack([one.time_s[~kept] / 60.0, one.read_c[~kept]]))
    assert np.array_equal(fitted, np.column_stack([one.time_s / 60.0, one.fitted_c]))
    (residuals,) = (line.get_xydata() for line in below.get_lines())
    assert np.array_equal(residuals[:, 1], (one.read_c - one.fitted_c)[kept])
    for axes, middle in ((above, one.fitted_c), (below, 0.0 * one.fitted_c)):
        (band,) = axes.collections
        heights = band.get_paths()[0].vertices[:, 1]
        assert (heights.min(), heights.max()) == (
            pytest.approx((middle - one.band_k).min()),
            pytest.approx((middle + one.band_k).max()),
        )
