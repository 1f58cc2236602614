"""The cautions that travel with everything a person may act on."""

from __future__ import annotations

CAUTIONS = (
    "Mains voltage and water kill together. Wiring, protective earth and a 30 mA RCD (ground-fault "
    "protection) are work for a licensed electrician, by the local code.",
    "The element must never be on dry. Whatever the controller says, a float switch in series with it and a "
    "thermal cut-out with manual reset have to stop it.",
    "Hot water and steam scald. Keep the lid shut while the machine runs, and let it cool before you reach "
    "in.",
    "The numbers hold for the machine as it was measured. After any change, or where a measured value was a "
    "guess: measure, plan and check again.",
    "Local codes and licensed practice come first wherever they say otherwise.",
)
"""Plain sentences in ASCII, so that a header for any compiler can carry them."""
