"""Line volts read without load stand for both legs, less the sag, where nothing better was read."""

from reconcile.house import House, Meter
from reconcile.house.site import FieldTest, Leg, Registered, Run
from reconcile.meter import judge_test


def test_unloaded_line_volts_are_used_and_not_taken_for_no_power():
    run = Run(
        "range",
        Registered(meter_kw=4.7),
        legs=(Leg(None, 20.0), Leg(None, 20.0)),
        line_volts=238.0,
        volts_were_loaded=False,
        background_w_before=0.0,
        background_w_after=0.0,
    )
    house = House("a", (), service="split-phase", meters=(Meter(display="kW now"),), field_test=FieldTest(runs=(run,)))
    judged = judge_test(house)
    assert len(judged.runs) == 1
    assert 0.95 * 238.0 * 20.0 < judged.runs[0].measured_w < 238.0 * 20.0
