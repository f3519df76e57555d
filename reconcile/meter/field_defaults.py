"""Every number the field test takes for granted where nothing better is written down, with its reason."""

from __future__ import annotations

from reconcile.records import dataclass

COMMON = "common practice, no published source"


@dataclass(frozen=True, slots=True)
class Default:
    """A value taken for granted, its unit, why, and where it comes from."""

    value: float
    unit: str
    reason: str
    source: str = COMMON


DEFAULTS: dict[str, Default] = {
    "display_step_kw": Default(0.01, "kW", "most displays show two decimals of a kilowatt"),
    "plug_in_step_kwh": Default(0.01, "kWh", "plug-in meters show two decimals of a kilowatt-hour"),
    "clamp_position_percent": Default(
        1.0, "% of reading", "a conductor off the middle of the jaws; clamps are specified for the middle"
    ),
    "low_current_percent": Default(
        10.0, "% of reading", "below a clamp's lowest specified current nothing is promised; a wide guess"
    ),
    "not_together_percent": Default(
        0.5,
        "% of power",
        "the supply wanders between one reading and the next, and power goes with volts squared",
    ),
    "power_factor_within": Default(0.005, "", "a resistive load's power factor is one but for its wiring and controls"),
    "motor_power_factor_within": Default(0.03, "", "a nameplate or handbook power factor of a motor or a drive"),
    "meter_volts_percent": Default(
        0.5,
        "% of reading",
        "the display of volts is for information; a meter of class 0.5 takes it that well",
    ),
    "legs_unequal_percent": Default(1.0, "% of leg volts", "how far two legs lie apart under a balanced load"),
    "unloaded_sag_percent": Default(
        1.5,
        "% of volts",
        "a heavy load pulls a house's volts down by up to about 3 %; half of it, give or take all",
    ),
    "main_ohms": Default(0.006, "ohm a leg", "a few metres of service conductor between meter and main"),
    "branch_ohms": Default(
        0.08,
        "ohm",
        "10 m of 2.5 mm^2 or 14 AWG, out and back, with its joints, is about 0.16; half of it, give or take all",
    ),
    "background_watts": Default(5.0, "W", "reading error of a background watched on the display or timed"),
    "background_drift_percent": Default(
        50.0, "% of background", "what may have switched where the background was read only once"
    ),
    "background_wander_percent": Default(
        4.0, "% of background", "how far a quiet house wanders within a quarter of an hour, as a standard deviation"
    ),
    "nominal_volts_percent": Default(
        5.0, "% of volts", "where nobody read the volts: service voltage, Range A of ANSI C84.1 about its nominal"
    ),
    "service_ohms": Default(0.1, "ohm", "transformer, service drop and meter, out and back, for the sag to expect"),
    "settle_seconds": Default(60.0, "s", "an element warms up and a display's averaging fills; then read"),
    "run_seconds": Default(600.0, "s", "ten minutes: short for a person, long for a stopwatch"),
}


def default(name: str) -> float:
    """Return the value of a default.

    Examples
    --------
    >>> default("display_step_kw")
    0.01
    """
    return DEFAULTS[name].value
