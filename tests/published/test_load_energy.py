"""Published appliance arithmetic, through the program's own load energy.

Sources: US DOE/EERE, "Estimating appliance and home electronic energy use", as restated by the city of Livonia
(livonia.gov/1460/Estimating-Appliance-Home-Electronic-Ene); US DOE/EERE water heater cost rule
(webarchive.library.unt.edu/eot2008/20090506061428/http://www.energysavers.gov, topic 13010). All read, except
where a line says "from memory" or "arithmetic".
"""

from dataclasses import replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

import numpy as np
import pytest
from numpy.testing import assert_allclose

from reconcile.house import Bill, House, Load
from reconcile.loads.energy import daily_energy_kwh, load_energy
from reconcile.loads.handbook import find, handbook
from reconcile.loads.reference import heater_kwh_per_year, parts_kwh_per_year

DOE_COMPUTER = (Load("computer", watts=120.0, run_hours=4.0), Load("monitor", watts=150.0, run_hours=4.0))
DOE_FAN = Load("window fan", watts=200.0, run_hours=4.0)


def kwh_over(days, *loads):
    """Energy of the loads over one billing period of so many days."""
    start = date(2025, 1, 1)
    bill = Bill(start, date.fromordinal(start.toordinal() + days), 1.0)
    return float(load_energy([bill], House("published", (bill,), loads)).kwh.sum())


def cents(value):
    return Decimal(str(value)).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)


def test_doe_computer_and_monitor():
    """(120 + 150) W x 4 h x 365 / 1000 = 394 kWh, at 11 cents $43.34."""
    kwh = kwh_over(365, *DOE_COMPUTER)
    assert_allclose(kwh, 394.2, rtol=1e-12)
    assert round(kwh) == 394
    assert cents(round(kwh) * 0.11) == Decimal("43.34")


def test_doe_window_fan():
    """200 W x 4 h x 120 days / 1000 = 96 kWh, at 11 cents $10.56."""
    kwh = kwh_over(120, DOE_FAN)
    assert_allclose(kwh, 96.0, rtol=1e-12)
    assert cents(kwh * 0.11) == Decimal("10.56")


def test_doe_window_fan_in_the_months_it_runs():
    """The same 120 days as months of a year: June to September are 122 days."""
    months = replace(DOE_FAN, months=frozenset({6, 7, 8, 9}))
    assert_allclose(kwh_over(365, months), 96.0 / 120.0 * 122.0, rtol=1e-12)


def test_doe_refrigerator_rule():
    """Hours at full watts are the plugged-in hours divided by three."""
    (kind,) = [kind for kind in handbook() if kind.load == "refrigerator by nameplate"]
    load = Load(kind.load, watts=kind.watts, follows="always", share_on=kind.share_on)
    assert_allclose(daily_energy_kwh(load), 725.0 * 24.0 / 3.0 / 1000.0, rtol=2e-3)


DOE_NAMEPLATE_WATTS = {  # DOE/EERE list of 2003, trawlerlife.com/Tips/electrical_loads.htm
    "aquarium": (50, 1210),
    "coffee maker": (900, 1200),
    "clothes washer": (350, 500),
    "electric clothes dryer": (1800, 5000),
    "dishwasher": (1200, 2400),
    "ceiling fan": (65, 175),
    "window fan": (55, 250),
    "whole-house fan": (240, 750),
    "hair dryer": (1200, 1875),
    "portable heater": (750, 1500),
    "iron": (1000, 1800),
    "microwave oven": (750, 1100),
    "toaster": (800, 1400),
    "vacuum cleaner": (1000, 1440),
    "electric water heater": (4500, 5500),
    "well pump": (250, 1100),
    "water bed": (120, 380),
}


@pytest.mark.parametrize("load", DOE_NAMEPLATE_WATTS)
def test_doe_nameplate_ranges_stand_in_the_handbook(load):
    (kind,) = [kind for kind in handbook() if kind.load == load]
    assert (kind.watts_low, kind.watts_high) == DOE_NAMEPLATE_WATTS[load]
    assert kind.watts_status == "read"


@pytest.mark.parametrize(("load", "watts"), [("dehumidifier", 785), ("toaster oven", 1225), ("furnace fan", 750)])
def test_doe_single_nameplates_are_the_top_of_the_range(load, watts):
    assert find(load)[0].watts_high == watts


def test_doe_water_heater_cost_rule():
    """EF 2.0 at $0.0842: $185 (184.86)."""
    assert_allclose(heater_kwh_per_year(2.0) * 0.0842, 184.86, rtol=0, atol=0.005)


def test_energyguide_label_of_an_electric_heater():
    """EF 0.90: 4,879 kWh a year (read second-hand); EF 2.35 says 1,856, which the rule gives within a percent."""
    assert round(heater_kwh_per_year(0.90)) == 4879
    assert_allclose(heater_kwh_per_year(2.35), 1856.0, rtol=0.01)


@pytest.mark.parametrize(("area", "bedrooms"), [(1000.0, 2.0), (1600.0, 3.0), (2000.0, 3.0), (2800.0, 4.0)])
def test_parts_from_memory_agree_with_the_lumped_form(area, bedrooms):
    """The parts' coefficients are from memory; the lumped form, which knows no bedrooms, was read.

    It is (18,842 + 25.1 x area) x 365 / 10^6 million Btu (draft of 2011, studylib.net/doc/18529637).
    """
    lumped = (18842.0 + 25.1 * area) * 365.0 / 1e6 * 293.0
    assert_allclose(sum(parts_kwh_per_year(area, bedrooms).values()), lumped, rtol=0.12)


def test_standby_of_whole_homes_stands_in_the_handbook():
    """LBNL, ten California homes: 14 to 169 W, mean 67 W (buildings.lbl.gov)."""
    kind = find("standby of everything")[0]
    assert (kind.watts_low, kind.watts, kind.watts_high) == (14.0, 67.0, 169.0)


def test_every_handbook_row_of_energy_is_finite_and_every_source_is_named():
    for kind in handbook():
        assert kind.source
        assert kind.watts_low <= kind.watts <= kind.watts_high
        assert kind.kwh_per_year is None or np.isfinite(kind.kwh_per_year)
