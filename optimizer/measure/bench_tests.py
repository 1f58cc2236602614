"""The bench tests: what each one settles of a profile, and the minutes of work that it takes once.

The minutes of the thermal tests are those of their logs, and what it takes to warm and pour the water; a log
that runs by itself counts as work, as somebody stands by a machine with mains and hot water in it. All other
minutes are common practice, *no source*.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class BenchTest:
    """One test.

    Attributes
    ----------
    name : str
        What it is called.
    do : str
        What is done, in a line.
    minutes : float
        Work that it takes once, getting ready included [min].
    settles : tuple of str
        Keys of the machine profile, dotted; with ``circuit.`` before it, of the circuit's.
    note : str
        What stands against doing it again, without a full stop; empty where nothing does.
    """

    name: str
    do: str
    minutes: float
    settles: tuple[str, ...]
    note: str = ""


BENCH_TESTS = (
    BenchTest(
        "voltages",
        "read the voltage at the machine's socket idle and loaded, 12 times over the year, at all hours",
        25,
        ("supply.voltage_v",),
        "it varies by itself: readings narrow it down to that and no further",
    ),
    BenchTest(
        "temperatures",
        "read a thermometer under the running inlet and one beside the machine, 12 times over the year",
        40,
        ("inlet.water_c", "room.air_c"),
        "a year is as warm as it is: narrower only by a profile for each season",
    ),
    BenchTest(
        "humidity", "read a hygrometer beside the machine, 12 times over the year", 12, ("room.humidity_pct",)
    ),
    BenchTest(
        "hardness", "hold a test strip into the water, or ask the supplier", 5, ("inlet.hardness_mmol_per_l",)
    ),
    BenchTest(
        "fills",
        "let the inlet run into a bucket on the scales for a minute by the stopwatch, 6 times",
        20,
        ("inlet.flow_l_per_min",),
    ),
    BenchTest(
        "level switch",
        "let the switch close the inlet, drain into a bucket on the scales, 6 times",
        40,
        ("inlet.level_l",),
    ),
    BenchTest(
        "cold pipe",
        "let the hot feed run into a bucket until the thermometer in it stops rising, 3 times",
        25,
        ("inlet.pipe_l",),
    ),
    BenchTest(
        "drains",
        "drain a weighed bucket by the stopwatch until the tank looks empty and until no more comes, 6 times",
        40,
        ("drain_pump.flow_l_per_min", "drain_pump.drain_lag_s"),
    ),
    BenchTest(
        "sponge", "take up what a drain leaves with a sponge and weigh it, 6 times", 30, ("tank.residual_l",)
    ),
    BenchTest(
        "buckets",
        "pour weighed buckets in, to where the spray spits, to the cover of the element; to the lip "
        "with a full load in",
        20,
        ("wash_pump.prime_l", "element.cover_l", "tank.capacity_l"),
    ),
    BenchTest(
        "level drop",
        "mark the level, start the spray, refill from the scales up to the mark, 6 times",
        25,
        ("wash_pump.holdup_l",),
    ),
    BenchTest(
        "ware",
        "weigh a full load dry, each material by itself",
        10,
        ("ware.porcelain_kg", "ware.glass_kg", "ware.stainless_kg", "ware.plastic_kg"),
    ),
    BenchTest("film", "weigh the load wet after a drain, and dry, 6 times", 45, ("ware.film_l",)),
    BenchTest(
        "meter",
        "read a plug-in power meter with one part on at a time, the voltage beside it, 6 times",
        15,
        (
            *("wash_pump.power_factor", "drain_pump.power_w", "drain_pump.power_factor"),
            *("supply.controller_w", "inlet.valve_w"),
        ),
    ),
    BenchTest(
        "starts and stalls",
        "read a clamp meter with peak hold on the mains side as a pump starts, and while its rotor is held",
        15,
        (
            *("wash_pump.inrush_multiple", "wash_pump.surge_a", "wash_pump.stall_a"),
            *("drain_pump.inrush_multiple", "drain_pump.surge_a", "drain_pump.stall_a"),
        ),
    ),
    BenchTest(
        "pump alone",
        "read the power meter 6 times while it sprays water as warm as the room, and log 20 min of that",
        30,
        # One product warms the water: `measure` puts the ends of the share into those of the power.
        ("wash_pump.power_w", "wash_pump.heat_share"),
    ),
    BenchTest(
        "element and pump",
        "go on with the element on for 10 min, and note when the meter's last digit turns",
        10,
        ("element.rated_w",),
    ),
    BenchTest(
        "hot pour",
        "pour 5 kg of water of 60 °C into the dry tank, spray at once, and log it for 10 min",
        25,
        ("tank.heat_capacity_kj_per_k", "tank.loss_spraying_w_per_k"),
    ),
    BenchTest(
        "cooling",
        "go on after a hot pour with the pump off, and log it for 12 min",
        12,
        ("tank.loss_still_w_per_k",),
    ),
    BenchTest(
        "ware in hot water",
        "pour water of 52 °C over cold ware, a probe on a plate, log 5 min with the pump off, 4 with it on",
        25,
        ("ware.response_still_s", "ware.response_spraying_s"),
    ),
    BenchTest(
        "layers",
        "heat with the pump off, then start it, and read how far sensor and surface fall, 3 times",
        60,
        ("element.top_over_mean_k", "element.sensor_over_mean_k"),
    ),
    BenchTest(
        "sensor",
        "hold a thermometer beside the sensor in the same stirred water, at 5 temperatures",
        20,
        ("element.sensor_error_k",),
    ),
    BenchTest(
        "steam",
        "let the pool boil with a probe on a plate, and log the plate's rise for 10 min",
        30,
        ("ware.steam_share",),
    ),
    BenchTest(
        "trials",
        "wash soiled ware and count what comes out clean: no test of the bench, but of the goal",
        240,
        ("wash_pump.mechanics_factor",),
    ),
    BenchTest(
        "rest of the circuit",
        "read a clamp meter on the circuit for a week, all else on; with peak hold as a compressor starts",
        30,
        ("circuit.background_a", "circuit.compressor_start_a"),
    ),
)
"""All of them, in the order in which a machine is measured."""


def settled_by(key: str) -> BenchTest | None:
    """Find the test that settles a key; None for what is chosen, or printed on a part."""
    return next((one for one in BENCH_TESTS if key in one.settles), None)
