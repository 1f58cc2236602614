"""The device of a circuit in words: its rating, and its class where the breakers of the place have one.

The classes B, C and D are those of IEC 60898-1. Breakers of North America have none (from memory): there a
profile names the class that comes nearest, and the words say that it was taken.
"""

from __future__ import annotations

from optimizer.profile.circuit import INSTANT_TRIP_MULTIPLE, Circuit, Device

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


def start_words(circuit: Circuit) -> str:
    """Say what stands behind the highest current that may flow on a circuit for a moment.

    Parameters
    ----------
    circuit : Circuit
        The circuit that feeds the machine; one with such a limit.

    Returns
    -------
    str
        To follow that current: ``3 times the rating: the breaker may trip at once``, or that the inverter or
        the generator gives no more.
    """
    if circuit.supply_gives_out:
        return "the most that the inverter or the generator gives for a moment"
    return f"{INSTANT_TRIP_MULTIPLE[circuit.device]:g} times the rating: the breaker may trip at once"
