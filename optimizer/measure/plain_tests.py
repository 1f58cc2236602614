"""What buckets, scales, stopwatch and meters say: each test without a log becomes estimates."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from optimizer.measure.book import Bench, Flow, FlowTable, MeterReading, Weighed
from optimizer.measure.estimate import Estimate, Instruments
from optimizer.measure.intervals import Errors, Interval, last_digit, one_number, run_to_run, step_error
from optimizer.measure.read_book import Book
from optimizer.measure.seasons import season_estimates
from optimizer.measure.voltages import voltage_estimates
from optimizer.physics.water import density_kg_per_l
from optimizer.units import S_PER_MIN

ROOM_C = 20.0
"""Temperature of water that was weighed and stood in the room [°C]."""

# Spread over the runs where there is one reading, as a share of it [1]; common practice, no source.
FLOW, RESIDUE, FILM, HOLD_UP, LOAD, PUMP, LAG, LEVEL = 0.15, 0.5, 0.4, 0.3, 0.1, 0.1, 0.5, 0.05

HOT_SHARE = 0.03
"""A heating wire has up to this more resistance hot than cold [1]: NiCr 80/20 some 2-4 % (from memory)."""

POWER_FACTOR_ERROR = 0.03
"""What a plug-in meter's cos φ may be off [1]: our choice, *no source*."""


def plain_estimates(book: Book) -> list[Estimate]:
    """Estimates of all tests without a log, in the order of a machine profile."""
    tools, bench = _Tools(book.instruments), book.bench
    found = voltage_estimates(bench.voltages, book.instruments)
    found += season_estimates(book)
    if bench.fills is not None:
        found.append(tools.flow("inlet.flow_l_per_min", "fills", bench.fills))
    found += tools.levels(bench)
    found += tools.ware(bench)
    found += tools.meter(bench)
    if bench.drains is not None:
        found.append(tools.flow("drain_pump.flow_l_per_min", "drains", bench.drains))
        lags = [run.lag_s for run in bench.drains.runs if run.lag_s is not None]
        if lags:
            errors = Errors(0.0, book.instruments.stopwatch_error_s / math.sqrt(3.0))
            interval = run_to_run(lags, errors, LAG * lags[0])
            found.append(estimate("drain_pump.drain_lag_s", interval, len(lags), "drains"))
    return found


def estimate(key: str, interval: Interval, readings: int, test: str) -> Estimate:
    """Make an estimate of an interval."""
    ends = (interval.nominal, interval.low, interval.high)
    return Estimate(key, *ends, readings, interval.method, interval.remarks, test)


@dataclass(frozen=True)
class _Tools:
    """The instruments, and what each of them makes of a test."""

    instruments: Instruments

    def flow(self, key: str, test: str, table: FlowTable) -> Estimate:
        """Litres a minute of water that ran into a bucket."""
        tools = self.instruments
        litres = [self._litres(run, table.water_c) for run in table.runs]
        flows = [S_PER_MIN * amount / run.s for amount, run in zip(litres, table.runs, strict=True)]
        many, mean = len(flows), sum(flows) / len(flows)
        by_jug = sum(run.kg is None for run in table.runs) / many
        share = max(
            by_jug * tools.jug_error_share,
            (1.0 - by_jug) * tools.scales_error_kg / (sum(litres) / many),
        )
        amounts = [run.l or run.kg or 0.0 for run in table.runs]
        seconds = [run.s for run in table.runs]
        mean_s = sum(seconds) / many
        late = tools.stopwatch_error_s / mean_s
        # A hand may be late each time anew, or always by as much.
        anew = (
            late / math.sqrt(3.0),
            step_error(last_digit(seconds)) / mean_s,
            step_error(last_digit(amounts, tools.scales_step_kg)) / (sum(litres) / many),
        )
        errors = Errors(math.hypot(share, late) * mean, math.hypot(*anew) * mean)
        return estimate(key, run_to_run(flows, errors, FLOW * mean), many, test)

    def _litres(self, run: Flow, water_c: float) -> float:
        if run.kg is None:
            assert run.l is not None
            return run.l
        return run.kg / float(density_kg_per_l(water_c))

    def levels(self, bench: Bench) -> list[Estimate]:
        """What was weighed until something happened."""
        buckets = bench.buckets
        given = (
            ("inlet.level_l", "buckets.switch", buckets.switch, True, LEVEL),
            ("tank.capacity_l", "buckets.lip", buckets.lip, False, LEVEL),
            ("tank.residual_l", "sponge", bench.sponge, True, RESIDUE),
            ("element.cover_l", "buckets.covers", buckets.covers, False, LEVEL),
            ("wash_pump.prime_l", "buckets.spits", buckets.spits, True, LEVEL),
            ("wash_pump.holdup_l", "level_drop", bench.level_drop, True, HOLD_UP),
        )
        return [
            self._level(key, test, weighed, varies, stated)
            for key, test, weighed, varies, stated in given
            if weighed is not None
        ]

    def _level(self, key: str, test: str, weighed: Weighed, varies: bool, stated: float) -> Estimate:
        tools = self.instruments
        if weighed.kg is not None:
            litres = [kg / float(density_kg_per_l(ROOM_C)) for kg in weighed.kg]
            common = tools.scales_error_kg
        else:
            assert weighed.l is not None
            litres, common = weighed.l, tools.jug_error_share * max(weighed.l)
        errors = Errors(common, step_error(last_digit(weighed.kg or litres, tools.scales_step_kg)))
        method = run_to_run if varies else one_number
        return estimate(key, method(litres, errors, stated * litres[0]), len(litres), test)

    def ware(self, bench: Bench) -> list[Estimate]:
        """Masses of a load, and the film that a drain leaves on it."""
        tools, materials = self.instruments, bench.ware.materials()
        found = []
        for name, table in materials.items():
            step_kg = last_digit(table.dry_kg, tools.scales_step_kg)
            errors = Errors(tools.scales_error_kg, step_error(step_kg))
            interval = run_to_run(table.dry_kg, errors, LOAD * table.dry_kg[0])
            found.append(estimate(f"ware.{name}_kg", interval, len(table.dry_kg), f"ware.{name}"))
        films = self._films(bench)
        if films:
            wet = [kg for table in materials.values() for kg in table.wet_kg]
            step_kg = last_digit(wet, tools.scales_step_kg)
            each = math.sqrt(2.0 * len(materials)) * step_error(step_kg)
            interval = run_to_run(films, Errors(tools.scales_error_kg, each), FILM * films[0])
            found.append(estimate("ware.film_l", interval, len(films), "ware"))
        return found

    def _films(self, bench: Bench) -> list[float]:
        """Litres that hung on the load after each drain, all materials together."""
        runs: list[float] = []
        for table in bench.ware.materials().values():
            dry = table.dry_kg
            # The weights of one load, dry and wet, go together; else the wet ones belong to the mean load.
            pairs = dry if len(dry) == len(table.wet_kg) else [sum(dry) / len(dry)] * len(table.wet_kg)
            film = [
                (wet - its_dry) / float(density_kg_per_l(ROOM_C))
                for wet, its_dry in zip(table.wet_kg, pairs, strict=True)
            ]
            runs = [one + other for one, other in zip(runs, film, strict=True)] if runs else film
        return runs

    def meter(self, bench: Bench) -> list[Estimate]:
        """Watts of each part, less what the controller takes."""
        meter, tools = bench.meter, self.instruments
        idle_w = _mean_w(meter.controller)
        found = list[Estimate]()
        parts = (
            ("supply.controller_w", "controller", meter.controller, False),
            ("inlet.valve_w", "valve", meter.valve, False),
            ("wash_pump.power_w", "wash_pump", meter.wash_pump, True),
            ("drain_pump.power_w", "drain_pump", meter.drain_pump, True),
        )
        for key, part, readings, varies in parts:
            if not readings:
                continue
            taken_w = 0.0 if part == "controller" else idle_w
            watts = [reading.w - taken_w for reading in readings]
            step_w = last_digit([reading.w for reading in readings], tools.meter_step_w)
            errors = Errors(tools.meter_error_share * max(abs(one) for one in watts), step_error(step_w))
            method = run_to_run if varies else one_number
            stated = PUMP * abs(watts[0]) if varies else 0.0
            one = estimate(key, method(watts, errors, stated), len(watts), f"meter.{part}")
            if not meter.controller:
                one = replace(one, remarks=(*one.remarks, "what the controller takes is in it"))
            found.append(one)
            factors = [reading.pf for reading in readings if reading.pf is not None]
            if varies and factors:
                errors = Errors(POWER_FACTOR_ERROR, step_error(0.01))
                name = key.replace("power_w", "power_factor")
                found.append(estimate(name, run_to_run(factors, errors, LOAD), len(factors), f"meter.{part}"))
        return found

    def element(self, bench: Bench, rated_v: float | None) -> list[Estimate]:
        """Rated watts of the element by the meter and by the ohm-meter, each an estimate of its own."""
        tools, found = self.instruments, list[Estimate]()
        volts = bench.element.rated_v if bench.element is not None else rated_v
        if volts is None:
            return []
        key = "element.rated_w"
        if bench.meter.element:
            idle_w = _mean_w(bench.meter.controller)
            rated = [(reading.w - idle_w) * (volts / reading.v) ** 2 for reading in bench.meter.element]
            share = math.hypot(tools.meter_error_share, 2.0 * tools.voltmeter_error_share)
            each = step_error(tools.meter_step_w)
            interval = one_number(rated, Errors(share * max(rated), each))
            found.append(estimate(key, interval, len(rated), "meter.element"))
        if bench.element is not None and bench.element.ohm:
            rated = [volts**2 / (ohm * (1.0 + HOT_SHARE / 2.0)) for ohm in bench.element.ohm]
            share = math.hypot(tools.ohmmeter_error_share, HOT_SHARE / 2.0)
            interval = one_number(rated, Errors(share * max(rated), 0.0))
            found.append(estimate(key, interval, len(rated), "element.ohm"))
        return found


def element_estimates(book: Book, rated_v: float | None) -> list[Estimate]:
    """Rated watts of the element by meter and by ohm-meter; `rated_v` where the book does not say."""
    return _Tools(book.instruments).element(book.bench, rated_v)


def _mean_w(readings: Sequence[MeterReading]) -> float:
    """Mean of the watts; 0 where there are none."""
    return sum(reading.w for reading in readings) / max(len(readings), 1)
