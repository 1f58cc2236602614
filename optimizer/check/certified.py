"""What a certificate says that guards and cautions hang on, so that every output says the same."""

from __future__ import annotations

from optimizer.check.certificate import (
    Certificate,
    held_value,
    hottest_bath_c,
    hottest_reading_c,
    least_covering_l,
)
from optimizer.programme.plan import Certified
from optimizer.units import short

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
    """Say what a proof leaves open: minutes that are one number, doses earned far from their reference."""
    return [*_on_your_minutes(certificate), *_far_doses(certificate)]


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
