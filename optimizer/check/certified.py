"""What a certificate says that guards and cautions hang on, so that every output says the same."""

from __future__ import annotations

import math

from optimizer.check.certificate import (
    RISE,
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
"""A larger step from ware to bath that no limit was asked of is told of [K]: about what glass is said to
stand (ASTM C149, from memory)."""

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
        heat_spare_s=next((row.margin for row in rows if row.key == "heat.cold_sensor_s"), None),
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
    told = certificate.told_of(RISE)
    if told is None or told.guaranteed <= STEP_K:
        return []
    # A bath that may boil has no bound that is a number.
    by = f"up to {math.ceil(told.guaranteed)} K" if math.isfinite(told.guaranteed) else f"over {STEP_K:g} K"
    return [
        f"No glass or porcelain in this programme: as a spray begins the bath may be {by} over the ware, and "
        "nothing limits it. For such ware set limits.ware_rise_k in the goal; else steel goes in for it, as "
        "much as holds the same heat (said with the full load)."
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
