"""Figures from outside beside what the program gives: rows of docs/obtained.md, run anew whenever the page is made.

Each row names the test in ``tests/published`` that holds it and tells its source whole.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import partial

import numpy as np

from reconcile.house import Bill, House, Load
from reconcile.house.registers import difference
from reconcile.house.tariff import Block, Charge, Tariff
from reconcile.loads.energy import degree_days, load_energy
from reconcile.loads.reference import heater_kwh_per_year
from reconcile.meter.budget import Input, coverage_factor, propagate, repeated
from reconcile.meter.forms import averages, creep_watts, form_2s_watts, network_overstatement
from reconcile.meter.registered import timed_watts, wait_seconds
from reconcile.money.refund import MeterError, refund, rules
from reconcile.money.tariff_lines import Use, price_bill, total
from reconcile.paper import examine
from reconcile.weigh.gaussian import fit, predict

D = Decimal


@dataclass(frozen=True, slots=True)
class Row:
    """A published figure, as printed, and how the program comes by it."""

    what: str
    expected: str
    obtained: Callable[[], float | Decimal]
    source: str
    status: str
    test: str

    @property
    def places(self) -> int:
        """Decimals of the printed figure."""
        return len(self.expected.partition(".")[2])

    @property
    def shown(self) -> str:
        """What the program gives, to the decimals printed, the half going up."""
        return str(Decimal(repr(float(self.obtained()))).quantize(D(1).scaleb(-self.places), rounding="ROUND_HALF_UP"))


def _kwh(days: int, *loads: Load) -> float:
    start = date(2025, 1, 1)
    bill = Bill(start, date.fromordinal(start.toordinal() + days), 1.0)
    return float(load_energy([bill], House("published", (bill,), loads)).kwh.sum())


def _seymour(winter: bool) -> Decimal:
    blocks = (Block(D(".064"), D(250)), Block(D(".049"), D(700)))
    blocks += (Block(D(".0446")),) if winter else (Block(D(".0475"), D(1250)), Block(D(".0446")))
    charges = (
        Charge("Energy", "blocks", blocks=blocks),
        Charge("Power cost", "per_kwh", D(".085")),
        Charge("Base", "per_bill", D("7.50"), kind="fixed"),
        Charge("Tax", "percent", D(1), kind="tax"),
    )
    use = Use(date(2025, 7, 1), date(2025, 7, 31), D(1200 if winter else 2000))
    return total(price_bill([Tariff(date(2000, 1, 1), charges)], use))


def _refund(place: str, registration: float, last_test: date) -> float:
    edges = [date(2022 + k // 12, k % 12 + 1, 1) for k in range(41)]
    bills = tuple(Bill(a, b, kwh=1000.0, amount=D(100)) for a, b in itertools.pairwise(edges))
    house = House("refund", bills)
    return refund(house, examine(house), rules()[place], MeterError(registration, date(2025, 1, 1), last_test)).kwh


def _line(number: int) -> float:
    """Intercept and slope of the degree-day exercise, by the conditional prediction of the weighing."""
    x = np.array([6, 4, 12, 43, 0, 52, 26, 30, 33], dtype=float)
    gas = np.array([2.1, 1.7, 3.1, 8.9, 1.2, 11.0, 5.3, 6.9, 7.5])
    columns = np.column_stack([np.ones(9), x])
    vague, noise = 1e8, 1e-9
    q, r = np.linalg.qr(columns)
    data = fit(gas, noise * (vague * q @ q.T + np.eye(9)), -2.0)
    turned = np.linalg.solve(r.T, np.eye(2)).T
    return float(
        predict(data, np.zeros(2), noise * vague * turned @ q.T, noise * vague * (turned**2).sum(axis=1)).mean[number]
    )


def _end_gauge(second_order: bool) -> float:
    def length(q: dict[str, float]) -> float:
        warm = q["delta alpha"] * (q["theta bar"] + q["Delta"]) + q["alpha s"] * q["delta theta"]
        return q["ls"] + q["d0"] + q["d1"] + q["d2"] - q["ls"] * warm

    inputs = (
        Input("ls", 50_000_623.0, 25.0, degrees_of_freedom=18, unit="nm"),
        Input("d0", 215.0, 5.8, degrees_of_freedom=24, unit="nm"),
        Input("d1", 0.0, 3.9, degrees_of_freedom=5, unit="nm"),
        Input("d2", 0.0, 6.7, degrees_of_freedom=8, unit="nm"),
        Input("alpha s", 11.5e-6, 2e-6, "rectangular", unit="1/K"),
        Input("delta alpha", 0.0, 1e-6, "rectangular", degrees_of_freedom=50, unit="1/K"),
        Input("delta theta", 0.0, 0.05, "rectangular", degrees_of_freedom=2, unit="K"),
        Input("theta bar", -0.1, 0.2, unit="K"),
        Input("Delta", 0.0, 0.5, "arcsine", unit="K"),
    )
    return propagate(length, inputs, second_order=second_order).standard_uncertainty


def _impedance() -> float:
    inputs, together = repeated(
        {
            "V": [5.007, 4.994, 5.005, 4.990, 4.999],
            "I": [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],
            "phi": [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
        }
    )
    return propagate(lambda q: q["V"] / q["I"], inputs, correlations=together).standard_uncertainty


def _shared_instruments() -> float:
    def watts(q: dict[str, float]) -> float:
        legs = ((119.7, 21.76), (119.5, 23.62))
        return sum(v * (1.0 + q["volts"]) * i * (1.0 + q["clamp"]) for v, i in legs)

    shared = (Input("volts", 0.0, 0.007, "rectangular"), Input("clamp", 0.0, 0.02, "rectangular"))
    budget = propagate(watts, shared, factor=2.0)
    return 100.0 * budget.expanded_uncertainty / budget.value


POINTS = {"full": 101.0, "light": 98.0, "power-factor": 100.5, "representative": 101.0}
TABLE = (
    Row(
        "computer and monitor, a year [kWh]",
        "394",
        lambda: _kwh(365, Load("computer", watts=120.0, run_hours=4.0), Load("monitor", watts=150.0, run_hours=4.0)),
        "US DOE/EERE appliance formula",
        "read",
        "test_load_energy.py",
    ),
    Row(
        "window fan, 120 days [kWh]",
        "96",
        lambda: _kwh(120, Load("window fan", watts=200.0, run_hours=4.0)),
        "US DOE/EERE appliance formula",
        "read",
        "test_load_energy.py",
    ),
    Row(
        "water heater of EF 2.0 at 8.42 cents, a year [$]",
        "185",
        lambda: heater_kwh_per_year(2.0) * 0.0842,
        "US DOE/EERE cost rule",
        "read",
        "test_load_energy.py",
    ),
    Row(
        "label of an electric water heater, EF 0.90 [kWh]",
        "4879",
        partial(heater_kwh_per_year, 0.90),
        "EnergyGuide label",
        "second-hand",
        "test_load_energy.py",
    ),
    Row(
        "heating degree-days, mean 40 °F",
        "25",
        lambda: float(degree_days(np.array([40.0]), 65.0)[0]),
        "NWS example",
        "read",
        "test_degree_days.py",
    ),
    Row(
        "cooling degree-days, 90 and 70 °F",
        "15",
        lambda: float(degree_days(np.array([80.0]), 65.0, cooling=True)[0]),
        "NWS example",
        "read",
        "test_degree_days.py",
    ),
    Row(
        "degree-day exercise, intercept",
        "0.9595",
        partial(_line, 0),
        "textbook exercise",
        "read",
        "test_conditional.py",
    ),
    Row(
        "degree-day exercise, slope", "0.189634", partial(_line, 1), "textbook exercise", "read", "test_conditional.py"
    ),
    Row(
        "winter bill of 1200 kWh [$]",
        "171.55",
        partial(_seymour, True),
        "City of Seymour, sample bill",
        "read",
        "test_bills.py",
    ),
    Row(
        "summer bill of 2000 kWh [$]",
        "277.88",
        partial(_seymour, False),
        "City of Seymour, sample bill",
        "read",
        "test_bills.py",
    ),
    Row(
        "readings 9201 and 9846 [kWh]",
        "645",
        lambda: float(difference(9201, 9846)),
        "utility leaflet",
        "read",
        "test_bills.py",
    ),
    Row(
        "refund, 4 % fast, 12 months of 1000 kWh, half since the last test [kWh]",
        "461.54",
        partial(_refund, "PA", 104.0, date(2022, 7, 1)),
        "52 Pa. Code 57.24",
        "arithmetic",
        "test_bills.py",
    ),
    Row(
        "average error, full 101 and light 98 [%]",
        "100.4",
        lambda: averages(POINTS)["M1"],
        "ANSI C12.1 as in 4 NCAC 11 R08-11",
        "arithmetic",
        "test_meters.py",
    ),
    Row("one turn of Kh 7.2 in 600 s [W]", "43.2", partial(timed_watts, 7.2, 1, 600), "LBNL", "read", "test_meters.py"),
    Row(
        "1600 imp/kWh at 100 W, time between flashes [s]",
        "22.5",
        partial(wait_seconds, 0.625, 100.0),
        "encyclopedia",
        "read",
        "test_meters.py",
    ),
    Row(
        "creep, one turn of Kh 7.2 in five minutes [W]",
        "86.4",
        partial(creep_watts, 7.2),
        "52 Pa. Code 57.20",
        "arithmetic",
        "test_meters.py",
    ),
    Row(
        "two legs' volts times amperes on a network service, over the truth",
        "1.1547",
        network_overstatement,
        "geometry",
        "arithmetic",
        "test_meters.py",
    ),
    Row(
        "form 2S, 118 V x 25 A and 122 V x 5 A [W]",
        "3600",
        partial(form_2s_watts, (118.0, 122.0), (25.0, 5.0)),
        "Ohm's law",
        "arithmetic",
        "test_meters.py",
    ),
    Row(
        "end gauge, standard uncertainty [nm]",
        "32",
        partial(_end_gauge, False),
        "JCGM 100, H.1",
        "read",
        "test_uncertainty.py",
    ),
    Row(
        "the same with second-order terms [nm]",
        "34",
        partial(_end_gauge, True),
        "JCGM 100, H.1",
        "read",
        "test_uncertainty.py",
    ),
    Row(
        "impedance, standard uncertainty of Z [ohm]",
        "0.236",
        _impedance,
        "JCGM 100, H.2",
        "read",
        "test_uncertainty.py",
    ),
    Row(
        "coverage factor, 95 %, 10 degrees of freedom",
        "2.23",
        partial(coverage_factor, 0.95, 10),
        "JCGM 100, table G.2",
        "memory",
        "test_uncertainty.py",
    ),
    Row(
        "clamp of 2 % and voltmeter of 0.7 %, expanded [%]",
        "2.447",
        _shared_instruments,
        "JCGM 100, 4.3 and 5.2",
        "arithmetic",
        "test_uncertainty.py",
    ),
)


def table() -> str:
    """Return the table as the page shows it."""
    rows = [
        f"| {row.what} | {row.expected} | {row.shown} | {row.source} | {row.status} | `{row.test}` |" for row in TABLE
    ]
    head = "| what | expected | obtained | source | status | held by `tests/published/` |"
    return "\n".join([head, "|---|---|---|---|---|---|", *rows])
