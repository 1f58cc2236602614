"""What trials say, as plain data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from optimizer.programme.cautions import LOCAL
from optimizer.report.numbers import plain
from optimizer.report.trial import HOLDS, remarks_of
from optimizer.trial.learnt_goal import minutes_of
from optimizer.trial.read_trials import Trials
from optimizer.trial.soil_fit import INTERVAL, Between, SoilFit


def trial_to_dict(trials: Trials, fits: Sequence[SoilFit]) -> dict[str, Any]:
    """Give the same as plain data."""
    return {
        "goal": trials.source.name if trials.source else None,
        "interval": INTERVAL,
        "soils": [fit_to_dict(fit) for fit in fits],
        "cautions": [HOLDS, LOCAL],
    }


def fit_to_dict(fit: SoilFit) -> dict[str, Any]:
    """Give what is known of one soil as plain data."""
    minutes, curve = minutes_of(fit), fit.curve
    return {
        "soil": fit.dose.name,
        "reference_c": fit.dose.reference_c,
        "z_k": fit.dose.z_k,
        "share": fit.share,
        "credibility": fit.credibility,
        "status": fit.status,
        "asked_min": fit.asked_min,
        "over_min": fit.over_min,
        "goal_minutes": dict(zip(("nominal", "low", "high"), minutes, strict=True)) if minutes else None,
        "ed50_min": _between_dict(fit.between(0.5)),
        "ed95_min": _between_dict(fit.between(0.95)),
        "most_likely": None
        if curve is None
        else {"ed50_min": curve.dose_min(0.5), "ed95_min": curve.dose_min(0.95), "slope_per_ln": curve.b},
        "scatter": fit.scatter,
        "trend_z": plain(fit.trend),
        "never_clean_share": fit.never_clean,
        "z_found": None if fit.z is None else vars(fit.z) | {"published_fits": fit.z.published_fits},
        "washes": [
            {
                "wash": wash.trial.wash,
                "date": str(wash.trial.date),
                "source": wash.given.source,
                "mean_c": plain(wash.given.heat.mean_c(fit.dose)),
                "dose_min": wash.given.dose_min,
                "common_sd": wash.given.common_sd,
                "own_sd": wash.given.own_sd,
                "pieces": wash.trial.pieces,
                "clean": wash.trial.clean,
                "curve_share": float(share),
                "remark": wash.trial.remark,
            }
            for wash, share in zip(fit.washes, fit.found.clean_share(fit.tried.ln_dose), strict=True)
        ],
        "remarks": list(remarks_of(fit)),
    }


def _between_dict(found: Between | None) -> dict[str, float] | None:
    return None if found is None else vars(found)
