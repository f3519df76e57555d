"""The whole-house reference of what is not on the list."""

from dataclasses import replace
from datetime import date

from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from reconcile.house import Band, Bill, House, Load
from reconcile.loads.reference import COST_RULE_KWH_PER_DAY, FURNACE_FAN_KWH_PER_YEAR, parts_kwh_per_year, unlisted

BARE = House("Invented", (Bill(date(2025, 1, 1), date(2025, 2, 1), 500.0),))
KNOWN = replace(BARE, floor_area_m2=150.0, bedrooms=3.0)
LONG_LIST = tuple(
    Load(name, watts=100.0, run_hours=2.0)
    for name in ("Refrigerator", "Range", "Dryer", "Dishwasher", "Washer", "TV", "Lights", "Porch light", "Computer")
)


def test_nothing_known_gives_a_whole_house():
    per_day, within = unlisted(BARE)
    assert 10.0 < per_day < 25.0
    assert within > unlisted(KNOWN)[1]


def test_an_empty_list_of_a_known_house_is_the_whole_reference():
    area_ft2 = 150.0 / 0.3048**2
    assert_allclose(unlisted(KNOWN)[0] * 365.0, sum(parts_kwh_per_year(area_ft2, 3.0).values()), rtol=1e-12)


def test_bigger_houses_leave_more():
    assert unlisted(replace(KNOWN, floor_area_m2=300.0))[0] > unlisted(KNOWN)[0]
    assert unlisted(replace(KNOWN, bedrooms=5.0))[0] > unlisted(KNOWN)[0]
    assert unlisted(replace(KNOWN, bedrooms=None, occupants=1.0))[0] < unlisted(KNOWN)[0]


def test_a_long_list_leaves_little_and_never_less_than_nothing():
    rest, within = unlisted(replace(KNOWN, loads=LONG_LIST))
    assert 0.0 < rest < 0.25 * unlisted(KNOWN)[0]
    assert within >= 80.0


def test_a_part_that_is_listed_is_gone_whatever_it_uses():
    frugal = replace(KNOWN, loads=(*LONG_LIST[1:], Load("Fridge", kwh_per_year=1.0)))
    hungry = replace(KNOWN, loads=(*LONG_LIST[1:], Load("Fridge", kwh_per_year=2000.0)))
    assert unlisted(frugal) == unlisted(hungry)


def test_small_plugs_that_are_listed_are_taken_out_once():
    one = replace(KNOWN, loads=(*LONG_LIST, Load("Toaster", watts=1100.0, run_hours=0.5)))
    assert_allclose(unlisted(replace(KNOWN, loads=LONG_LIST))[0] - unlisted(one)[0], 1.1 * 0.5, rtol=1e-9)


def test_electric_hot_water_that_nobody_listed_is_added():
    house = replace(KNOWN, loads=LONG_LIST, water_heating_fuel="electric")
    added = unlisted(house)[0] - unlisted(replace(house, water_heating_fuel="gas"))[0]
    assert_allclose(added, COST_RULE_KWH_PER_DAY / 0.92, rtol=1e-12)
    listed = replace(house, loads=(*LONG_LIST, Load("Water heater", watts=4500.0, run_hours=2.0)))
    assert unlisted(listed)[0] < unlisted(house)[0] - 10.0


def test_a_furnace_fan_that_nobody_listed_is_added():
    house = replace(KNOWN, loads=LONG_LIST, heating_fuel="Gas")
    added = unlisted(house)[0] - unlisted(replace(house, heating_fuel=None))[0]
    assert_allclose(added, FURNACE_FAN_KWH_PER_YEAR / 365.0, rtol=1e-9)
    listed = replace(house, loads=(*LONG_LIST, Load("Blower", watts=500.0, follows="heating")))
    assert unlisted(listed) == unlisted(replace(house, heating_fuel=None, loads=listed.loads))


def test_what_the_householder_says_goes_first():
    stated = replace(KNOWN, band=Band(unlisted_kwh_per_day=1.5, unlisted_within_percent=20.0))
    assert unlisted(stated) == (1.5, 20.0)
    assert unlisted(replace(KNOWN, band=Band(unlisted_kwh_per_day=1.5))) == (1.5, 50.0)
    assert unlisted(replace(KNOWN, band=Band(unlisted_within_percent=30.0))) == (unlisted(KNOWN)[0], 30.0)
    assert unlisted(replace(KNOWN, band=Band(unlisted_kwh_per_day=0.0)))[0] == 0.0


@given(
    st.one_of(st.none(), st.floats(10, 2000)),
    st.one_of(st.none(), st.floats(0, 12)),
    st.one_of(st.none(), st.floats(0, 12)),
    st.lists(st.tuples(st.sampled_from(["Fridge", "Toaster", "??", "Dryer"]), st.floats(0, 9000)), max_size=6),
)
def test_never_negative_and_always_with_a_limit(area, bedrooms, occupants, loads):
    house = replace(
        BARE,
        floor_area_m2=area,
        bedrooms=bedrooms,
        occupants=occupants,
        loads=tuple(Load(name, watts=watts, run_hours=6.0) for name, watts in loads),
    )
    per_day, within = unlisted(house)
    assert per_day > 0.0
    assert 50.0 < within < 300.0
