"""Earth-fault protection by place: which device protects people, in the words of every output.

IEC 60364-4-41 has an RCD of 30 mA for the socket circuits of a household (from memory). UL 943 has a class A
ground-fault interrupter trip at 6 mA and not under 4 mA (secondary page); where it holds, devices of 30 mA
protect equipment. Behind an inverter whose output floats an earth fault has no way back, so no current flows
and nothing trips: that is the law of the circuit (Kirchhoff), whatever the device.
"""

from __future__ import annotations

from optimizer.profile.circuit import Circuit, EarthFault

RCD, OF_TYPE_A = "30 mA RCD", "30 mA RCD (type A or better)"
"""Electronic supplies make an earth fault pulse, and an RCD of type AC may then not trip; type A does (IEC
61008-1, IEC 60364-5-53, from memory). Said where the device is to be bought."""

ANYWHERE = f"{RCD} (in North America a class A GFCI, UL 943)"
"""The device where the place is not known."""

DEVICE: dict[EarthFault, str] = {
    "rcd_30ma": RCD,
    "gfci_class_a": "class A GFCI (trips at 4-6 mA, UL 943; a 30 mA device protects equipment, not people)",
    "inverter": (
        f"{RCD} or class A GFCI (behind an inverter it trips only if the inverter's neutral is bonded to "
        "earth)"
    ),
    "none": f"{ANYWHERE}, which the circuit does NOT have",
}
"""The device that protects people, in ASCII, by what the circuit profile says."""


BOND_MEASURED = ", that bond measured by an electrician, as the test button does not show it"
"""Said of an inverter: the button closes a circuit of its own, without the bond too (from memory)."""


def mains_caution(circuit: Circuit | None) -> str:
    """Say that mains and water kill, and what stands against it.

    Parameters
    ----------
    circuit : Circuit or None
        The circuit; None where the place is not known.

    Returns
    -------
    str
        A sentence in ASCII.
    """
    device = ANYWHERE if circuit is None else DEVICE[circuit.earth_fault]
    return f"Mains voltage and water kill. Needed: earth, licensed electrician, {device}."


def earth_fault_guard(circuit: Circuit) -> str:
    """Name the device as a guard of a machine.

    Parameters
    ----------
    circuit : Circuit
        The circuit that feeds the machine.

    Returns
    -------
    str
        The guard in ASCII.
    """
    device = DEVICE[circuit.earth_fault].replace(RCD, OF_TYPE_A)
    measured = BOND_MEASURED * (circuit.earth_fault == "inverter")
    return f"{device} ahead of the machine{measured}; press its test button each month"
