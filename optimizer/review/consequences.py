"""What a machine that has drifted does to the plan: the check with the quantities as they are now."""

from __future__ import annotations

from collections.abc import Sequence

from pydantic import ValidationError

from optimizer.check.certificate import Certificate, Row
from optimizer.check.certify import check
from optimizer.profile.machine import Machine
from optimizer.programme.plan import Plan
from optimizer.review.machine_now import Finding

KEYS = {
    "element": ("element", "rated_w"),
    "inlet": ("inlet", "water_c"),
    "room": ("room", "air_c"),
    "flow": ("inlet", "flow_l_per_min"),
    "residual": ("tank", "residual_l"),
    "tank": ("tank", "heat_capacity_kj_per_k"),
    "loss_still": ("tank", "loss_still_w_per_k"),
    "loss_spraying": ("tank", "loss_spraying_w_per_k"),
    "response": ("ware", "response_spraying_s"),
}
"""By the word for a quantity: where it stands in a machine's profile. Ware stands there by material."""

CAUSES = {
    ("element", -1): "low voltage on the day, a coil or leg of the element or its contactor that is open, "
    "another element than its plate says (scale lowers no watts: it makes the sheath hotter)",
    ("element", 1): "high voltage on the day, another element than its plate says",
    ("inlet", -1): "a cold week or season, a hot feed that was off",
    ("inlet", 1): "a warm week or season, a warm run of pipe, a hot feed open",
    ("room", -1): "a cold room, a door or window open",
    ("room", 1): "a warm room, the tank still warm from a run before",
    ("flow", -1): "a clogged inlet filter, a kinked hose, a tap half shut, low pressure in the mains",
    ("flow", 1): "high pressure in the mains, a flow limiter that is gone, another valve or hose",
    ("residual", -1): "a tank that stands tilted towards the drain, a filter or sump insert taken out",
    (
        "residual",
        1,
    ): "a drain that stops short: a clogged filter, a kinked or raised drain hose, water that runs "
    "back, a tank that stands tilted",
    ("ware", -1): "a small load",
    ("ware", 1): "a heavy load",
    ("tank", -1): "racks or fittings taken out, another tank than the profile's",
    ("tank", 1): "something heavy left in it, another tank than the profile's",
    ("loss_still", -1): "insulation added, a lid that shuts better",
    (
        "loss_still",
        1,
    ): "a lid left open or a leaky seal, insulation gone or wet, a valve that drips cold water in",
    ("loss_spraying", -1): "insulation added, a lid that shuts better, a weak spray",
    ("loss_spraying", 1): "a lid left open or a leaky seal, steam that escapes, insulation gone or wet",
    ("response", -1): "a stronger spray, thinner ware",
    (
        "response",
        1,
    ): "a weak spray (clogged nozzles or filter, a worn pump, foam), ware that stands in the lee, thick ware",
}
"""By the word for a quantity and the way it went: causes in the trade's words, the likeliest first; common
practice, *no source*."""

MEASURES = {
    "element": "the watts at the plug with the element on, and the volts beside them",
    "inlet": "a thermometer in the water of a fill",
    "room": "a thermometer beside the machine",
    "flow": "the litres of a timed fill, on scales",
    "residual": "what a drain leaves in the sump, taken up with a sponge and weighed",
    "ware": "the load on scales",
    "tank": "warm water of known weight into the cold, empty tank, and how far it cools",
    "loss_still": "a warm bath left to cool for hours, the lid shut",
    "loss_spraying": "a warm bath left to cool while it is sprayed",
    "response": "a probe on the ware while it is sprayed",
}
"""By the word for a quantity: what to measure to know it by itself; common practice, *no source*."""

NEVER_SHOWN = (
    "how fast the drain pumps (the pump runs as long and draws as much; what it no longer gets out shows as "
    "water left in the sump): time a drain into a bucket",
    "the wash pump's power and the voltage by themselves: read the plug's meter",
    "a thermometer that is off by more than the profile's sensor, or than 0.5 K where it tells of none: all "
    "temperatures and doses are off with it; hold it in stirred ice water, which has 0 °C",
)
"""What no log of a run shows, and what to do instead."""


def cause(finding: Finding) -> str:
    """Say what may lie behind a quantity outside its interval."""
    return CAUSES[finding.word, 1 if finding.value > finding.nominal else -1]


def machine_with(machine: Machine, findings: Sequence[Finding]) -> Machine:
    """Give a machine the intervals that a run found, in place of those in its profile."""
    content = machine.model_dump()
    for one in findings:
        if one.word == "ware":
            ratio = one.value / one.nominal
            for name, kilograms in content["ware"].items():
                if name.endswith("_kg") and kilograms:
                    content["ware"][name] = {
                        end: max(float(value) * ratio, 0.0) for end, value in kilograms.items()
                    }
            continue
        part, key = KEYS[one.word]
        low = one.value_low if part in ("inlet", "room") and key.endswith("_c") else max(one.value_low, 1e-6)
        content[part][key] = {"nominal": max(one.value, low), "low": low, "high": max(one.value_high, low)}
    return Machine.model_validate(content)


def worst_found(plan: Plan) -> Certificate:
    """Search for the worst points of a plan on the machine of its profile, without the bounds of a proof."""
    inputs = plan.inputs
    return check(plan.constants, inputs.machine, inputs.goal, inputs.circuit, leave_out="proof")


def worst_doses(certificate: Certificate) -> dict[str, float]:
    """Doses at the worst points of the tolerances, by their keys in a certificate [min; s for hygiene]."""
    return {row.key: row.worst for row in certificate.rows if row.key.startswith(("dose.", "hygiene."))}


def broken(plan: Plan, findings: Sequence[Finding]) -> list[Row] | None:
    """Check the plan on the machine as it is now, and give the requirements that do not hold.

    None where a quantity is beyond what a profile may hold: nothing is proven for such a machine.
    """
    try:
        machine = machine_with(plan.inputs.machine, findings)
    except ValidationError:
        return None
    certificate = check(plan.constants, machine, plan.inputs.goal, plan.inputs.circuit, leave_out="closeness")
    return [row for row in certificate.rows if not row.passed]
