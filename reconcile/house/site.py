"""What is read on site: instruments, runs with a known load, quiet readings and readings with the main off.

Values are as written down; :mod:`reconcile.meter` judges them.
"""

from __future__ import annotations

from dataclasses import field
from datetime import date
from typing import Literal

from reconcile.records import dataclass

Connection = Literal["line-to-line", "line-to-neutral"]


@dataclass(frozen=True, slots=True)
class Instrument:
    """Limits of error of one instrument, as its specification sheet gives them.

    The limit at a reading x is ``percent_of_reading`` x / 100 + ``percent_of_range`` ``full_scale`` / 100
    + ``digits`` ``resolution``, in the unit of the reading.
    """

    percent_of_reading: float = 0.0
    percent_of_range: float = 0.0
    full_scale: float | None = None
    digits: float = 0.0
    resolution: float = 0.0
    resolution_kwh: float | None = None
    """Step of the energy a plug-in meter shows [kWh]."""
    min_amps: float | None = None
    category: str | None = None
    """Measurement category of IEC 61010, such as ``CAT III 600 V``."""
    name: str = ""
    serial: str = ""
    calibrated: date | None = None
    """Day of its last calibration."""


@dataclass(frozen=True, slots=True)
class Instruments:
    """What the person has at hand; None where a quantity is not measured."""

    volts: Instrument | None = None
    amps: Instrument | None = None
    watts: Instrument | None = None
    time_seconds: float = 0.3
    """Limit of error of a timing by hand [s], start and stop together (common practice)."""


@dataclass(frozen=True, slots=True)
class Display:
    """Steps of what the meter shows."""

    step_kw: float | None = None
    step_volts: float | None = None
    count_wh: float | None = None
    """What one flash or one turn is worth by the meter's face, Kt or Kh [Wh]."""


@dataclass(frozen=True, slots=True)
class Leg:
    """Volts to neutral under load, amps, and the power factor of the load or of the leg itself."""

    volts: float | None
    amps: float
    power_factor: float | None = None
    leg_power_factor: float | None = None


@dataclass(frozen=True, slots=True)
class Registered:
    """What the meter showed over one observation, in whichever way it was read."""

    meter_kw: float | None = None
    seconds: float | None = None
    pulses: float | None = None
    turns: float | None = None
    register_start: float | None = None
    register_end: float | None = None
    kw_repeats: tuple[float, ...] = ()
    """Repeated displays [kW]; ``meter_kw`` is their mean."""
    seconds_repeats: tuple[float, ...] = ()
    """Repeated timings [s] of the same count; ``seconds`` is their mean."""
    counted: Literal["pulse-to-pulse", "in-a-time"] | None = None
    """Whether the time ran from one pulse (or turn) to a later one, or was fixed beforehand."""


@dataclass(frozen=True, slots=True)
class Run:
    """One run with a load, the meter's reading beside the instruments'."""

    label: str
    registered: Registered
    legs: tuple[Leg, ...] = ()
    service: str | None = None
    meter_volts: float | None = None
    connection: Connection | None = None
    """None where it was not written down: line-to-line is then assumed, and said to be."""
    line_volts: float | None = None
    volts_were_loaded: bool = True
    background_w_before: float | None = None
    background_w_after: float | None = None
    reference_watts: float | None = None
    reference_kwh: float | None = None
    load: Literal["light", "full", "other"] | None = None
    clamps: Literal["main", "load"] | None = None
    """Whether the clamps sat on the service (``main``, the default) or on the load's own wires."""
    outlet_volts_off: float | None = None
    outlet_volts_on: float | None = None
    """Volts at the receptacle of a plug-in run, load off and on."""
    day: date | None = None
    note: str = ""
    row: int | None = field(default=None, compare=False)
    watts_repeats: tuple[float, ...] = ()
    """Repeated readings of the plug-in meter during the run [W]; ``reference_watts`` is their mean."""
    background_repeats: tuple[float, ...] = ()
    """All readings of what else was on, before and after [W], where there are more than one of either."""


@dataclass(frozen=True, slots=True)
class Quiet:
    """The meter watched while everything that can be is switched off but the loads named in ``on``."""

    registered: Registered
    on: tuple[str, ...] = ()
    day: date | None = None
    row: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class MainOff:
    """The meter watched with the main breaker off."""

    registered: Registered
    all_disconnects_off: bool | None = None
    generation_off: bool | None = None
    service_underground: bool | None = None
    """Whether the service wires come underground: with a reading here, a stop condition."""
    day: date | None = None
    row: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Record:
    """Who read, and when, as written on the sheet."""

    person: str = ""
    license: str = ""
    employer: str = ""
    started: str = ""
    ended: str = ""


@dataclass(frozen=True, slots=True)
class IntervalRun:
    """A stretch of a planned run read from interval data: a heater on a plug-in energy meter, nobody at the meter.

    Attributes
    ----------
    day : date
        Local date on which the night's hours begin; one night's stretches share it, past midnight too.
    from_hour : float
        Clock hour of switching on, from the midnight that begins ``day``; over 24 after the next one [h].
    hours : float
        Time on [h].
    kwh : float
        What the plug-in meter counted in it [kWh].
    """

    day: date
    from_hour: float
    hours: float
    kwh: float
    note: str = ""
    row: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Branch:
    """One branch breaker switched off, the main on: by how much the meter slowed."""

    circuit: str
    """As it is written beside the breaker."""
    fell_watts: float
    """[W]; 0 where the meter went on as before."""
    unplugged: bool | None = None
    """Whether everything on the circuit was unplugged or switched off; None where nobody says."""
    day: date | None = None
    row: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class FieldTest:
    """Everything read on site."""

    instruments: Instruments = Instruments()
    display: Display = Display()
    runs: tuple[Run, ...] = ()
    quiet: tuple[Quiet, ...] = ()
    main_off: tuple[MainOff, ...] = ()
    records: tuple[Record, ...] = ()
    """Of the householder and of the electrician, as far as they were written."""
    interval_runs: tuple[IntervalRun, ...] = ()
    branches: tuple[Branch, ...] = ()

    @property
    def once(self) -> bool:
        """Whether a known load was run once and no more: a single figure may be misread."""
        return len(self.runs) == 1 and not self.interval_runs
