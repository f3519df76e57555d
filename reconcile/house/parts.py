"""What a house is made of: its bills, loads, meters and diary, as frozen values in base units.

Energy is kWh, power W, temperature degrees Celsius, money ``Decimal`` in the house's currency.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import cache
from operator import attrgetter
from typing import Any, Literal

from reconcile.records import dataclass

ReadType = Literal["actual", "estimated", "customer"]
BillType = Literal["regular", "first", "final", "corrected", "cancelled"]
Follows = Literal["clock", "always", "heating", "cooling"]
Source = Literal["measured", "nameplate", "label", "guessed"]
Service = Literal["split-phase", "network", "two-wire", "three-phase", "unknown"]


class Plain:
    """Numbers and days of numpy and pandas given to a constructor, or to ``replace``, are kept as Python's own."""

    __slots__ = ()

    def __post_init__(self) -> None:
        if _OWN.issuperset(map(type, _values_of(type(self))(self))):  # type: ignore[arg-type]
            return
        for name in self.__dataclass_fields__:  # type: ignore[attr-defined]
            value = getattr(self, name)
            if type(value) not in _OWN and (made := plain_value(value)) is not value:
                object.__setattr__(self, name, made)


_OWN = frozenset((str, float, int, bool, type(None), date, Decimal, tuple, frozenset))


@cache
def _values_of(kind: Any) -> attrgetter[tuple[Any, ...]]:
    return attrgetter(*kind.__dataclass_fields__)


def plain_value(value: Any) -> Any:
    """Return a number of numpy, or a day of pandas, as Python's own; anything else as it is.

    Examples
    --------
    >>> import numpy as np
    >>> plain_value(np.float64(846.0)), plain_value(np.int64(3)), plain_value(datetime(2025, 3, 7))
    (846.0, 3, datetime.date(2025, 3, 7))
    """
    if type(value).__name__ in ("NaTType", "NAType"):
        return None
    if type(value).__name__ == "datetime64":
        value = value.astype("datetime64[s]").item()
    elif type(value).__module__ == "numpy" and hasattr(value, "item") and not hasattr(value, "__len__"):
        short = type(value).__name__ in ("float32", "float16")  # 0.15 is meant, not 0.15000000596046448
        value = float(str(value)) if short else value.item()
    if isinstance(value, datetime) and value.tzinfo is None and value.time() == time(0):
        return date(value.year, value.month, value.day)
    return value


@dataclass(frozen=True, slots=True)
class Bill(Plain):
    """One billing period, as printed.

    Attributes
    ----------
    start, end : date
        Dates of the opening and the closing reading; where ``inclusive``, the printed first and last day.
    kwh : float or None
        Billed energy [kWh]; None only where readings stand in its place. Below 0 only of a house that generates.
    amount : Decimal or None
        This period's electric charges, tax included, in the house's currency: no arrears, fees or other services.
    amount_due, budget_amount : Decimal or None
        What was asked for, where it differs.
    bill_date : date or None
    bill_type : {'regular', 'first', 'final', 'corrected', 'cancelled'}
    read_type, read_type_start : {'actual', 'estimated', 'customer'}
        Of the closing and the opening reading; of the opening one None is that of the bill before.
    reading_start, reading_end : float or None
        Register values [in the dial's own unit: kWh divided by the multiplier].
    multiplier : float or None
        If not the meter's.
    meter : str or None
        The meter's number.
    printed_days : int or None
        Days as printed [d], checked against the dates.
    delivered_kwh, received_kwh : float or None
        The two registers of a house with generation [kWh].
    expected_generation_kwh : float or None
        What the house's own panels should have made in the period [kWh], by whoever reckons it.
    demand_kw : float or None
        Billed demand [kW].
    note : str
    rate_code : str or None
    inclusive : bool
        Whether the printed first and last day both count (``[bills] dates = "inclusive"``).
    row : int or None
        Row of the file it came from, for findings and faults.
    edge_doubt_days : float
        How far each of the two readings may lie off its day, 95 % [d]: 0 where the days are written on the bill.
    mean_temperature_c : float or None
        Mean outdoor temperature of the period as the bill prints it [degC].
    """

    start: date
    end: date
    kwh: float | None = None
    amount: Decimal | None = None
    amount_due: Decimal | None = None
    budget_amount: Decimal | None = None
    bill_date: date | None = None
    bill_type: BillType = "regular"
    read_type: ReadType = "actual"
    read_type_start: ReadType | None = None
    reading_start: float | None = None
    reading_end: float | None = None
    multiplier: float | None = None
    meter: str | None = None
    printed_days: int | None = None
    delivered_kwh: float | None = None
    received_kwh: float | None = None
    expected_generation_kwh: float | None = None
    demand_kw: float | None = None
    note: str = ""
    rate_code: str | None = None
    inclusive: bool = False
    row: int | None = None
    edge_doubt_days: float = 0.0
    mean_temperature_c: float | None = None

    @property
    def closes(self) -> date:
        """Date on whose reading the period closes: the day after a last day that counts."""
        return self.end + timedelta(days=1) if self.inclusive else self.end

    @property
    def days(self) -> int:
        """Days of the period [d]: the nights between the opening and the closing reading."""
        return (self.closes - self.start).days


@dataclass(frozen=True, slots=True)
class Load(Plain):
    """One line of the load inventory. Exactly one of ``watts``, ``kwh_per_year``, ``kwh_per_cycle`` is given.

    Attributes
    ----------
    name : str
    count : int
    watts : float or None
        Electric power of one while it is on [W]; a motor's efficiency and a power factor are already applied.
    kwh_per_year : float or None
        A yearly label value [kWh/a].
    kwh_per_cycle, cycles_per_week : float or None
        Of washers and the like [kWh], [1/week].
    run_hours : float or None
        Hours a day [h/d].
    share_on : float
        Part of the run hours in which it draws, 0 to 1.
    standby_watts : float
        For the remaining hours [W].
    follows : {'clock', 'always', 'heating', 'cooling'}
        What its hours go with.
    hours_per_degree_day : float or None
        Of heating and cooling [h/(K d)], whatever unit the file used.
    balance_c : float or None
        Outdoor temperature at which it begins to run [degC].
    months : frozenset of int or None
        Months of the year in which it runs, 1 to 12; None is all of them.
    arrives, leaves : date or None
        First day it is there, and first day it is gone.
    watts_within_percent, hours_within_percent : float or None
        95 % limits of what is not known, on either side [%].
    power_factor, efficiency : float or None
        As they were applied, 0 to 1.
    source : {'measured', 'nameplate', 'label', 'guessed'}
    note : str
    apparent : bool
        Whether ``watts`` came from amps x volts, a nameplate maximum.
    row : int or None
        Row of the file it came from.
    """

    name: str
    count: int = 1
    watts: float | None = None
    kwh_per_year: float | None = None
    kwh_per_cycle: float | None = None
    cycles_per_week: float | None = None
    run_hours: float | None = None
    share_on: float = 1.0
    standby_watts: float = 0.0
    follows: Follows = "clock"
    hours_per_degree_day: float | None = None
    balance_c: float | None = None
    months: frozenset[int] | None = None
    arrives: date | None = None
    leaves: date | None = None
    watts_within_percent: float | None = None
    hours_within_percent: float | None = None
    power_factor: float | None = None
    efficiency: float | None = None
    source: Source = "nameplate"
    note: str = ""
    apparent: bool = False
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Meter(Plain):
    """A utility meter and what is known of it.

    Attributes
    ----------
    number : str or None
    begins, ends : date or None
        First day it served, and first day it was gone, where several served the house in turn.
    type : {'electronic', 'disk'}
    form : str or None
        As ``2S``.
    digits : int or None
        Dials of the register.
    multiplier : float
        Instrument transformers included.
    step_kwh : float
        Resolution of the register [kWh].
    display : {'kWh', 'kW now', 'kW demand'}
    tolerance_percent : float
        Within which it is right [%].
    disk_wh, pulse_wh : float or None
        Energy a turn of the disk, a pulse [Wh].
    test_amps : float or None
        [A]
    """

    number: str | None = None
    begins: date | None = None
    ends: date | None = None
    type: Literal["electronic", "disk"] = "electronic"
    form: str | None = None
    digits: int | None = None
    multiplier: float = 1.0
    step_kwh: float = 1.0
    display: Literal["kWh", "kW now", "kW demand"] = "kWh"
    tolerance_percent: float = 2.0
    disk_wh: float | None = None
    pulse_wh: float | None = None
    test_amps: float | None = None


@dataclass(frozen=True, slots=True)
class Band(Plain):
    """What the householder says of the usual range.

    Attributes
    ----------
    coverage : float
        Chance with which it holds all the bills of a house, 0.5 to 0.9999.
    month_to_month_percent : float
        By how much the household's own ways move from one bill to the next [%].
    unlisted_kwh_per_day : float or None
        What is known to be used beside the list [kWh/d].
    unlisted_within_percent : float or None
        95 % limits of it, on either side [%].
    """

    coverage: float = 0.95
    month_to_month_percent: float = 5.0
    unlisted_kwh_per_day: float | None = None
    unlisted_within_percent: float | None = None


@dataclass(frozen=True, slots=True)
class Event(Plain):
    """A line of the household's diary.

    Attributes
    ----------
    day, until : date, date or None
        First and last day.
    kind : str
        As ``new-load``, ``away``, ``guests``; see the page on formats.
    load : str or None
        Name of the load it is about.
    note : str
    row : int or None
        Row of the file it came from.
    percent : float or None
        Of a ``meter-test``: registration that the utility or a laboratory found [%]; 100 is right.
    """

    day: date
    kind: str
    until: date | None = None
    load: str | None = None
    note: str = ""
    row: int | None = None
    percent: float | None = None


@dataclass(frozen=True, slots=True)
class RegisterReading(Plain):
    """One dated register value from ``readings.csv``.

    Attributes
    ----------
    day : date
    value : float
        Of the register [in the dial's own unit].
    meter : str or None
        The meter's number.
    register : str
        Which of several, ``total`` where there is one.
    type : {'actual', 'estimated', 'customer'}
    event : str or None
    row : int or None
        Row of the file it came from.
    """

    day: date
    value: float
    meter: str | None = None
    register: str = "total"
    type: ReadType = "actual"
    event: str | None = None
    row: int | None = None


@dataclass(frozen=True, slots=True)
class ChargeLine(Plain):
    """One printed line of a bill from ``charges.csv``.

    Attributes
    ----------
    start : date
        Names the billing period.
    name : str
    amount : Decimal
        In the house's currency.
    company : str
    part : {'supply', 'delivery', 'other'}
    quantity, rate : Decimal or None
        As printed.
    row : int or None
        Row of the file it came from.
    """

    start: date
    name: str
    amount: Decimal
    company: str = ""
    part: Literal["supply", "delivery", "other"] = "other"
    quantity: Decimal | None = None
    rate: Decimal | None = None
    row: int | None = None
