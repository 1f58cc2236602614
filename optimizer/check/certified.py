"""What a certificate says that guards and cautions hang on, so that every output says the same."""

from __future__ import annotations

import math

from optimizer.check.certificate import (
    Certificate,
    held_value,
    hottest_bath_c,
    hottest_reading_c,
    least_covering_l,
)
from optimizer.programme.plan import Certified
from optimizer.units import short

SOFTENS_C = 60.0
"""A hotter bath is told of with what ware suffers in it [°C]; *no source*, our choice."""
STEP_K = 40.0
"""A larger step from ware to bath that no limit was asked of is told of [K]; *no source*, 10 K under what the
goals for glass and porcelain ask, as the runs do not look for the worst of it: that may be some K more."""

FAR_DOSE = (
    "How much a minute counts there follows from z alone, and a wrong z is not in the tolerances: find the "
    "minutes by trial loads at about that temperature."
)


def certified(certificate: Certificate) -> Certified:
    """Sum up what guards and cautions need of a certificate."""
    rows = certificate.rows
    return Certified(
        bath_c=hottest_bath_c(rows),
        covering_l=least_covering_l(rows),
        cautions=tuple(proof_cautions(certificate)),
        reading_c=hottest_reading_c(rows),
        ware_drop_k=held_value(rows, "ware.drop_k"),
        ware_rise_k=held_value(rows, "ware.rise_k"),
    )


def proof_cautions(certificate: Certificate) -> list[str]:
    """Say what a proof leaves open: what ware must stand, minutes of one number, doses earned far off."""
    return [
        *_what_ware_stands(certificate),
        *_step_not_asked(certificate),
        *_on_your_minutes(certificate),
        *_far_doses(certificate),
    ]


def _what_ware_stands(certificate: Certificate) -> list[str]:
    bath_c = hottest_bath_c(certificate.rows)
    if bath_c is None or bath_c <= SOFTENS_C:
        return []
    return [
        f"Ware has to stand {math.ceil(bath_c)} °C: thin and PET plastics soften, crystal and decorated ware "
        "suffer."
    ]


def _step_not_asked(certificate: Certificate) -> list[str]:
    """Say how far a bath is over the ware as a spray begins, where no limit is asked."""
    rise_k = certificate.rise_found_k
    if rise_k is None or any(row.key == "ware.rise_k" for row in certificate.rows):
        return []
    if rise_k <= STEP_K or not math.isfinite(rise_k):
        return []
    return [
        f"No glass or porcelain in this programme: as a spray begins the bath is {math.ceil(rise_k)} K over "
        "the ware in the worst run tried, and nothing limits it. For such ware set limits.ware_rise_k in the "
        "goal."
    ]


def _on_your_minutes(certificate: Certificate) -> list[str]:
    if not certificate.on_your_minutes:
        return []
    names = ", ".join(certificate.on_your_minutes)
    return [f"On your minutes: those of {names} are one number; how far they may be off is not in the proof."]


def _far_doses(certificate: Certificate) -> list[str]:
    """Say which doses were earned far from the temperature at which their minutes are stated, if any."""
    far = [dose for dose in certificate.earned if dose.far]
    if not far:
        return []
    places = ", ".join(f"{d.name} at {d.mean_c:.0f} °C (stated at {short(d.reference_c)} °C)" for d in far)
    return [f"Earned far from the temperature at which its minutes are stated: {places}. {FAR_DOSE}"]
