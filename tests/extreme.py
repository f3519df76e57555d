"""Houses at the edges of what the readers let through: ``extreme_house(seed)`` gives the files of one.

Nothing here is likely; each value alone may be in a file. A house is either refused with its faults or answered.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from typing import Any

Rows = list[list[Any]]

EDGE_KWH = (0, 0.0, 1e-320, 1e-9, 0.4, 1, 500, 2000, 2000.5, 69_000, 5e-324)
EDGE_MONEY = (None, 0, "0.01", "-50", "120.55", "10000000000", "9999999999.99", "0.000000001", "-9999999999", "1e-7")
EDGE_PRICE = ("0", "0.14", "-0.05", "1000000", "1e-12", "999999.99", "0.000000002", "1e-400", "1e6", "-1e6")
EDGE_PERCENT = (0, 5, 100, 800, 900, 1000, 1e-300, 1e-9)
EDGE_SMALL = (0.02, 0.020001, 0.5, 1)
EVENTS = ("new-load", "removed-load", "replaced", "nothing-replaced", "volts-changed", "same-volts", "repair", "away",
          "guests", "occupants", "thermostat", "meter-exchange", "outage", "price-plan", "other")  # fmt: skip


def extreme_house(seed: int) -> dict[str, str]:
    """Return the files of one house, by name."""
    dice = random.Random(seed)
    files: dict[str, str] = {}
    generation = dice.random() < 0.2
    bills = _bills(dice, generation)
    names = [f"Load {n}" for n in range(dice.choice((0, 0, 1, 2, 5, 12, 40)))]
    files["house.toml"] = _settings(dice, generation)
    files["bills.csv"] = _csv(bills)
    if names:
        files["loads.csv"] = _csv(_loads(dice, names))
    first, last = bills[1][0], max(row[1] for row in bills[1:])
    if dice.random() < 0.6:
        files["weather.csv"] = _csv(_weather(dice, first, last))
    if dice.random() < 0.3:
        files["events.csv"] = _csv(_events(dice, first, last, names))
    if dice.random() < 0.3:
        files["interval.csv"] = _interval(dice, first, last)
    if dice.random() < 0.3:
        files["field_test.toml"] = _field_test(dice, last)
    if dice.random() < 0.1:
        files["readings.csv"] = _csv(_readings(dice, first, last))
    return files


def _csv(rows: Rows) -> str:
    return "".join(",".join("" if cell is None else str(cell) for cell in row) + "\n" for row in rows)


def _bills(dice: random.Random, generation: bool) -> Rows:
    count = dice.choice((1, 1, 2, 3, 4, 6, 12, 13, 24, 36, 60, 150))
    length = dice.choice(((30, 30), (28, 34), (1, 1), (7, 7), (1, 90), (60, 62), (365, 366), (799, 799)))
    if count * length[1] > 20_000:
        count = 20_000 // length[1]
    usual = dice.choice(EDGE_KWH)
    shape: Callable[[int], float] = dice.choice(
        (
            lambda n: usual,
            lambda n: usual * (1 + 0.5 * math.sin(n / 1.9)),
            lambda n: dice.choice(EDGE_KWH),
            lambda n: 2000.0 if n % 2 else 0.0,
            lambda n: usual if n < count // 2 else usual * 10,
            lambda n: usual if n < count - 4 else 0.0,
            lambda n: abs(dice.gauss(usual, usual)),
        )
    )
    sign = -1 if generation and dice.random() < 0.5 else 1
    with_readings, with_amounts = dice.random() < 0.5, dice.random() < 0.7
    register = dice.choice((0.0, 99_990.0, 9e9, 12_345.6))
    amounts: Sequence[Any] = dice.choice((EDGE_MONEY, ("120.55",), (None, "80")))
    names = ["start", "end", "kwh", "amount", "read_type", "bill_type", "reading_start", "reading_end", "meter",
             "multiplier", "demand_kw", "days", "bill_date"]  # fmt: skip
    rows: Rows = [names]
    start = dice.choice((date(2024, 1, 9), date(1950, 1, 1), date(2020, 2, 28), date(2023, 12, 31)))
    odd = dice.random() < 0.3
    for n in range(count):
        days = dice.randint(*length)
        end = start + timedelta(days=days)
        if end.year > 2100:
            break
        kwh: Any = sign * shape(n) if dice.random() < 0.97 else None
        most = 0.9 * 96 * 24 * days
        kwh = None if kwh is None else math.copysign(min(abs(kwh), most), kwh)
        after = (register + (kwh or 0.0)) % 100_000.0 if register < 1e9 else 1e10
        rows.append(
            [
                start,
                end,
                kwh if kwh is not None or with_readings else 0,
                dice.choice(amounts) if with_amounts else None,
                dice.choice(("actual", "actual", "actual", "estimated", "customer")) if odd else None,
                dice.choice((None, None, None, None, "first", "final", "corrected", "cancelled")) if odd else None,
                register if with_readings else None,
                abs(after) if with_readings else None,
                dice.choice(("A", "B")) if odd and dice.random() < 0.2 else None,
                dice.choice((2e-9, 1e5, 40)) if odd and dice.random() < 0.1 else None,
                dice.choice((0, 1e-300, 90)) if odd and dice.random() < 0.2 else None,
                dice.choice((days, days + 1, 0)) if odd else None,
                end + timedelta(days=dice.choice((0, 3, 400))) if odd and dice.random() < 0.5 else None,
            ]
        )
        register = abs(after)
        start = end + timedelta(days=dice.choice((0, 0, 0, 0, -5, 40, 1))) if odd else end
    return rows


def _loads(dice: random.Random, names: list[str]) -> Rows:
    head = ["load", "count", "watts", "kwh_per_year", "kwh_per_cycle", "cycles_per_week", "run_hours", "share_on",
            "standby_watts", "efficiency", "power_factor", "follows", "hours_per_degree_day", "balance_temperature",
            "months", "from", "until", "watts_within_percent", "hours_within_percent", "source"]  # fmt: skip
    rows: Rows = [head]
    limits = dice.choice(((None,), EDGE_PERCENT, (1000,), (0,), (800,)))
    for name in names:
        row: dict[str, Any] = dict.fromkeys(head)
        row["load"] = name
        row["count"] = dice.choice((1, 1, 1, 1, 3, 1000 if dice.random() < 0.02 else 2))
        row["follows"] = dice.choice((None, "always", "heating", "cooling"))
        way = dice.choice(("watts", "watts", "year", "cycle"))
        if way == "watts":
            largest = 20_000 if row["count"] == 1 and len(names) < 3 else 1500
            row["watts"] = dice.choice((0, 1e-320, 1, 60, 1500, largest, 2e-9, "12 A * 120 V", "0.75 hp"))
            row["share_on"] = dice.choice((None, 0, 1, 1e-300, 0.4))
            row["run_hours"] = dice.choice((0, 24, 3, 1e-300)) if row["follows"] is None else None
            row["efficiency"] = dice.choice((None, None, *EDGE_SMALL))
            row["power_factor"] = dice.choice((None, None, *EDGE_SMALL))
        elif way == "year":
            row["kwh_per_year"] = dice.choice((0, 1e-320, 500_000 if dice.random() < 0.1 else 90_000, 400))
        else:
            row["kwh_per_cycle"], row["cycles_per_week"] = dice.choice((0, 1e-320, 90, 1)), dice.choice((0, 1000, 3))
        row["standby_watts"] = dice.choice((None, 0, 9_000, 1e-300, 5))
        if row["follows"] in ("heating", "cooling"):
            row["hours_per_degree_day"] = dice.choice((None, 0, 24, 1e-300, 0.6))
            row["balance_temperature"] = dice.choice((None, -10, 40, 16))
        row["months"] = dice.choice((None, None, "2", "11-2", "1-12"))
        row["from"] = dice.choice((None, None, "1950-01-01", "2024-07-04", "2100-01-01"))
        row["until"] = dice.choice((None, None, "2100-12-31"))
        row["watts_within_percent"], row["hours_within_percent"] = dice.choice(limits), dice.choice(limits)
        row["source"] = dice.choice((None, "measured", "label", "guessed"))
        rows.append(list(row.values()))
    return rows


def _weather(dice: random.Random, first: date, last: date) -> Rows:
    span = (last - first).days
    level: Callable[[int], float] = dice.choice(
        (
            lambda n: 10 + 14 * math.sin(n / 58),
            lambda n: -89.0,
            lambda n: 59.0,
            lambda n: 18.0,
            lambda n: 59.0 if n % 2 else -89.0,
            lambda n: dice.uniform(-30, 40),
        )
    )
    keep: Callable[[int], bool] = dice.choice(
        (
            lambda n: True,
            lambda n: n == span // 2,
            lambda n: n > 0.6 * span,
            lambda n: n % 30 == 0,
            lambda n: not 0.3 * span < n < 0.6 * span,
        )
    )
    return [["date", "mean"], *([first + timedelta(days=n), round(level(n), 2)] for n in range(span + 1) if keep(n))]


def _events(dice: random.Random, first: date, last: date, names: list[str]) -> Rows:
    rows: Rows = [["date", "until", "kind", "load", "note"]]
    for _ in range(dice.choice((1, 3, 50))):
        day = max(first + timedelta(days=dice.randint(-400, (last - first).days + 400)), date(1950, 1, 1))
        until = day + timedelta(days=dice.choice((0, 9, 4000))) if dice.random() < 0.3 else None
        rows.append([day, until, dice.choice(EVENTS), dice.choice((*names, None)), None])
    return rows


def _interval(dice: random.Random, first: date, last: date) -> str:
    days = min((last - first).days, dice.choice((1, 3, 40, 400)))
    offset = dice.choice((0, 0, -40, 15, 5000))
    per_day = dice.choice((24, 24, 1, 48))
    value = dice.choice((0.0, 1e-320, 0.5, 40.0, 1e-9))
    lines = ["time,kwh"]
    for n in range(days * per_day):
        at = first + timedelta(days=offset + n // per_day)
        minutes = (n % per_day) * 1440 // per_day
        if dice.random() < 0.02:
            continue
        kwh = value if dice.random() < 0.9 else dice.choice((0.0, 0.3, 1e-300))
        lines.append(f"{at} {minutes // 60:02d}:{minutes % 60:02d},{kwh}")
    return "\n".join(lines) + "\n"


def _field_test(dice: random.Random, last: date) -> str:
    lines = ["[instrument.watts]", f"percent_of_reading = {dice.choice((0.0, 1e-300, 1.0, 50.0))}"]
    for _ in range(dice.choice((0, 1, 3))):
        lines += [
            "[[run]]",
            'label = "heater"',
            f"reference_watts = {dice.choice((50, 1500, 1800))}",
            f"pulses = {dice.choice((0, 1, 100))}",
            f"seconds = {dice.choice((170, 400))}",
            f"background_w_before = {dice.choice((0, 2e-9 if dice.random() < 0.1 else 5, 300))}",
        ]
    for _ in range(dice.choice((0, 1, 2))):
        lines += [
            "[[quiet]]",
            f"date = {last + timedelta(days=dice.choice((0, 30, -4000)))}",
            f"pulses = {dice.choice((0, 3, 900))}",
            f"seconds = {dice.choice((60, 900, 3_000_000))}",
        ]
    for _ in range(dice.choice((0, 1))):
        lines += ["[[main_off]]", f"pulses = {dice.choice((0, 1, 90))}", f"seconds = {dice.choice((60, 900))}"]
    return "\n".join(lines) + "\n"


def _readings(dice: random.Random, first: date, last: date) -> Rows:
    rows: Rows = [["date", "meter", "register", "value"]]
    for n in range(dice.choice((1, 4, 30))):
        day = first + timedelta(days=n * max((last - first).days // 30, 1))
        rows.append([day, None, dice.choice(("total", "total", "received")), dice.choice((0, 1e9, 1e-320, 100.0 * n))])
    return rows


def _settings(dice: random.Random, generation: bool) -> str:
    lines = ["[house]", 'name = "Edge"']
    lines += ["generation = true"] if generation else []
    for key, values in {
        "floor_area": (0.001, 20_000, 150),
        "occupants": (0, 100, 3),
        "bedrooms": (0, 100),
        "service_amps": (2e-9, 3000, 200),
        "line_volts": (80, 700, 240),
    }.items():
        if dice.random() < 0.15:
            lines.append(f"{key} = {dice.choice(values)}")
    if dice.random() < 0.3:
        lines.append(f'service = "{dice.choice(("split-phase", "network", "two-wire", "three-phase", "unknown"))}"')
    lines.append("[meter]")
    for key, values in {
        "digits": (3, 10, 5),
        "multiplier": (2e-9, 100_000, 40),
        "step_kwh": (2e-9, 1000, 0.01),
        "tolerance_percent": (2e-9, 20),
        "pulse_wh": (2e-9, 10_000, 1.0),
    }.items():
        if dice.random() < 0.2 or key == "pulse_wh":
            lines.append(f"{key} = {dice.choice(values)}")
    if dice.random() < 0.4:
        lines += [
            "[band]",
            f"coverage = {dice.choice((0.5, 0.9999, 0.95))}",
            f"month_to_month_percent = {dice.choice((0, 100, 5, 1e-300))}",
            f"unlisted_kwh_per_day = {dice.choice((0, 2000, 1e-300, 4))}",
            f"unlisted_within_percent = {dice.choice(EDGE_PERCENT)}",
        ]
    if dice.random() < 0.6:
        lines += _tariff(dice)
    return "\n".join(lines) + "\n"


def _tariff(dice: random.Random) -> list[str]:
    lines = ["[[tariff]]", f"valid_from = {dice.choice(('1950-01-01', '2024-03-01', '2099-01-01'))}"]
    if dice.random() < 0.4:
        lines += [f"energy = {dice.choice(EDGE_PRICE)}", f"fixed_per_bill = {dice.choice(EDGE_PRICE)}"]
        return [*lines, f"tax_percent = {dice.choice((0, -100, 5, 1000))}"]
    lines.append(f"minimum_per_bill = {dice.choice(('0', '9999999999', '10'))}")
    lines += ["[[tariff.charge]]", 'name = "Energy"']
    lines.append(
        dice.choice(
            (
                f"per_kwh = {dice.choice(EDGE_PRICE)}",
                f"blocks = [{{up_to_per_day = 2e-9, price = {dice.choice(EDGE_PRICE)}}}, {{price = 0.2}}]",
                f"blocks = [{{up_to_per_bill = 500, price = 0.1}}, {{price = {dice.choice(EDGE_PRICE)}}}]",
                'windows = [{name = "peak", hours = "16-21", price = 0.4}, {name = "rest", price = 0.1}]',
                "values = [{from = 2024-01-01, per_kwh = 0.1}, {from = 2024-02-11, per_kwh = 1e6}]",
            )
        )
    )
    lines += ["[[tariff.charge]]", 'name = "Levy"', f"percent = {dice.choice((0, -100, 5, 1000))}", 'on = ["Energy"]']
    if dice.random() < 0.3:
        lines += ["[[tariff.charge]]", 'name = "Demand"', f"per_kw = {dice.choice(EDGE_PRICE)}"]
    return lines
