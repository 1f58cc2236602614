"""The device of a circuit in words: its rating, and its class where the breakers of the place have one.

The classes B, C and D are those of IEC 60898-1. Breakers of North America have none (from memory): there a
profile names the class that comes nearest, and the words say that it was taken.
"""

from __future__ import annotations

from optimizer.profile.circuit import Circuit, Device

LOW_MAINS_V = 150.0
"""Under this the mains is that of a place without classes of breakers [V]."""

FUSES: dict[Device, str] = {"fuse_gg": "gG fuse", "fuse_plug": "plug fuse"}


def _without_classes(circuit: Circuit) -> bool:
    """Whether the breakers of the circuit's place have no class: North America, by its guard or its mains."""
    return circuit.earth_fault == "gfci_class_a" or circuit.voltage_v < LOW_MAINS_V


def device_words(circuit: Circuit) -> str:
    """Name the device of a circuit.

    Parameters
    ----------
    circuit : Circuit
        The circuit that feeds the machine.

    Returns
    -------
    str
        Rating and kind: ``6 A B breaker``, ``15 A breaker, taken as type C``, ``13 A plug fuse``.
    """
    rating = f"{circuit.rating_a:g} A"
    if circuit.device in FUSES:
        return f"{rating} {FUSES[circuit.device]}"
    letter = circuit.device[-1].upper()
    if _without_classes(circuit):
        return f"{rating} breaker, taken as type {letter}"
    return f"{rating} {letter} breaker"
