"""ESPI data (NAESB REQ.21): the public samples to their totals, the codes, and what is refused."""

from __future__ import annotations

import contextlib
import itertools
import re
import tempfile
from datetime import UTC, date, datetime
from pathlib import Path
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reconcile.clock import changes
from reconcile.errors import InputError
from reconcile.house import House
from reconcile.read import read_house
from reconcile.read.timeline.espi import key_of
from reconcile.read.timeline.espi_clock import DstRule
from reconcile.say import Voice
from reconcile.texts.interval import assumed_text

SAMPLES = Path(__file__).parents[2] / "data" / "espi"
BILLS = "start,end,kwh\n2025-01-07,2025-02-06,912\n2025-02-06,2025-03-07,801\n"


def house(xml: bytes | str, toml: str = "", bills: str | None = BILLS, zone: str | None = "America/New_York") -> House:
    with tempfile.TemporaryDirectory() as place:
        if bills is not None:
            Path(place, "bills.csv").write_text(bills, encoding="utf-8")
        named = "" if zone is None else f"timezone = '{zone}'\n"
        Path(place, "house.toml").write_text(f"[house]\n{named}{toml}", encoding="utf-8")
        Path(place, "interval.xml").write_bytes(xml if isinstance(xml, bytes) else xml.encode())
        return read_house(place)


def sample(name: str) -> bytes:
    return (SAMPLES / name).read_bytes()


# by a plain walk over every IntervalReading: readings, Wh, step, from, to
TOTALS = {
    "15minLP_15Days.xml": (1340, 1_397_734, 900, "2012-03-01T05:00", "2012-03-15T04:00"),
    "1hrLP_32Days.xml": (768, 2_354_843, 3600, "2012-04-01T04:00", "2012-05-03T04:00"),
    "1dayLP_45Days.xml": (45, 2_958_004, 86400, "2012-03-01T05:00", "2012-04-15T04:00"),
    "hourlyForMonthMar.xml": (743, 2_278_213, 3600, "2011-03-01T05:00", "2011-04-01T04:00"),
    "openespi_test_usage_data_01.xml": (96, 93_846, 900, "2012-03-01T05:00", "2012-03-02T05:00"),
}


@pytest.mark.parametrize("name", TOTALS)
def test_samples_are_read_to_their_totals(name: str) -> None:
    interval = house(sample(name)).interval
    assert interval is not None
    readings, wh, step, first, last = TOTALS[name]
    assert len(interval.kwh) == readings
    assert interval.kwh.sum() * 1000 == pytest.approx(wh, abs=0.01)
    assert interval.step_seconds == step
    assert str(interval.starts[0])[:16] == first
    assert str(interval.ends[-1])[:16] == last
    assert all(action.code == "estimated" for action in interval.actions)


def test_delivered_and_received_of_the_usage_point_that_is_named() -> None:
    batch = sample("BatchFeedThreeUsagePoints_M.xml")
    with pytest.raises(InputError, match="4284792, 4284793, 4284794"):
        house(batch)
    interval = house(batch, "[interval]\nchannel = '4284792'\n").interval
    assert interval is not None
    assert interval.received_kwh is not None
    assert len(interval.kwh) == len(interval.received_kwh) == 96
    assert (round(interval.kwh.sum() * 1000), round(interval.received_kwh.sum() * 1000)) == (14_635, 30_195)


@pytest.mark.parametrize("channel", ["4284792", "4284793", "4284794"])
def test_every_usage_point_of_a_batch_is_read_to_the_sums_of_a_plain_walk(channel: str) -> None:
    batch = sample("BatchFeedThreeUsagePoints_M.xml")
    wanted: dict[str, int] = {}  # by direction, 1 delivered and 19 received
    types, of_meter = {}, {}
    entries = [entry for entry in ElementTree.fromstring(batch) if entry.tag.endswith("}entry")]
    links = [[link.get("href", "") for link in entry if link.tag.endswith("}link")] for entry in entries]
    for entry, hrefs in zip(entries, links, strict=True):
        for way in entry.iterfind(".//{*}flowDirection"):
            types[hrefs[0]] = way.text or ""
    for hrefs in links:
        for name in types.keys() & set(hrefs[1:]):
            of_meter[hrefs[0]] = types[name]
    for entry, hrefs in zip(entries, links, strict=True):
        if f"UsagePoint/{channel}/" in hrefs[0] and "/IntervalBlock" in hrefs[0]:
            way = of_meter[hrefs[0].partition("/IntervalBlock")[0]]
            values = entry.iterfind(".//{*}IntervalReading/{*}value")
            wanted[way] = wanted.get(way, 0) + sum(int(value.text or "") for value in values)
    interval = house(batch, f"[interval]\nchannel = '{channel}'\n").interval
    assert interval is not None
    assert round(interval.kwh.sum() * 1000) == wanted.get("1", 0)
    received = 0 if interval.received_kwh is None else round(interval.received_kwh.sum() * 1000)
    assert received == wanted.get("19", 0)


def test_gas_is_refused_in_words() -> None:
    with pytest.raises(InputError, match="holds no electricity: its readings are in therm"):
        house(sample("Gas.xml"))


def test_billed_periods_become_bills_where_there_are_no_others() -> None:
    made = house(sample("1hrLP_32Days.xml"), bills=None)
    (bill,) = made.bills
    assert (bill.start, bill.end, bill.kwh, str(bill.amount)) == (
        date(2012, 4, 1),
        date(2012, 5, 1),
        2215.348,
        "251.85000",
    )
    assert any("billed periods" in notice for notice in made.notices)
    assert len(house(sample("1hrLP_32Days.xml")).bills) == 2


@pytest.mark.parametrize("clock", [True, False])
def test_a_feed_tells_the_time_zone_that_the_household_does_not(clock: bool) -> None:
    feed = sample("MonthlyOnlyElectricData.xml")
    if not clock:  # by the midnights at which its periods begin
        feed = re.sub(rb"<LocalTimeParameters.*?</LocalTimeParameters>", b"", feed, flags=re.DOTALL)
    told = house(feed, bills=None, zone=None)
    assert told.timezone == "America/New_York"
    assert told.bills == house(feed, bills=None).bills
    assert any("No time zone is set" in notice for notice in told.notices)
    assert told.bills[0].start == date(2011, 8, 26)
    assert sum(bill.kwh for bill in told.bills) == 9567.0


def test_values_with_decimals_are_read() -> None:
    whole = sample("hourlyForMonthMar.xml")
    got = house(re.sub(rb"(<value>\d+)(</value>)", rb"\1.50\2", whole)).interval
    assert got is not None
    assert got.kwh.sum() * 1000 == pytest.approx(2_278_213 + 0.5 * 743, abs=0.01)


def test_readings_of_months_are_bills() -> None:
    made = house(sample("MonthlyOnlyElectricData.xml"), bills=None)
    assert made.interval is None
    assert len(made.bills) == 14
    assert sum(bill.kwh or 0 for bill in made.bills) == pytest.approx(9567.0)
    assert (made.bills[0].start, made.bills[-1].end) == (date(2011, 8, 26), date(2012, 9, 30))


def test_a_zip_of_a_feed() -> None:
    import io
    import zipfile

    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("download.xml", sample("1hrLP_32Days.xml"))
    with tempfile.TemporaryDirectory() as place:
        Path(place, "bills.csv").write_text(BILLS, encoding="utf-8")
        Path(place, "interval.zip").write_bytes(stream.getvalue())
        interval = read_house(place).interval
    assert interval is not None
    assert len(interval.kwh) == 768


# usage.xsd of NAESB REQ.21 3.3 (read in the schema): the third Friday of March at 01:45; the hex by arithmetic
def test_bits_of_the_schemas_own_example() -> None:
    assert DstRule.of(0x380A1A8C) == DstRule(month=3, operator=4, day=0, weekday=5, seconds=6300)
    assert DstRule.of(0xFFFFFFFF) is None


@pytest.mark.parametrize("year", range(2008, 2031))
def test_bits_of_the_american_rule_against_zoneinfo(year: int) -> None:
    spring, autumn = DstRule.of(0x360E2000), DstRule.of(0xB40E2000)
    assert spring is not None
    assert autumn is not None
    first = int(datetime(year, 1, 1, tzinfo=UTC).timestamp())
    found = changes(first, first + 366 * 86_400, ZoneInfo("America/New_York"))[:2]
    for rule, change in zip((spring, autumn), found, strict=True):
        local = datetime.fromtimestamp(change.instant + change.before, UTC)
        assert rule.on(year) == local.date()
        assert rule.seconds == local.hour * 3600


@given(
    month=st.integers(1, 12),
    operator=st.integers(1, 7),
    weekday=st.integers(1, 7),
    day=st.integers(1, 28),
    year=st.integers(1971, 2099),
)
@settings(max_examples=200, deadline=None)
def test_every_operator_by_the_calendar(month: int, operator: int, weekday: int, day: int, year: int) -> None:
    rule = DstRule(month, operator, day if operator == 1 else 0, weekday, 0)
    days = [date.fromordinal(n) for n in range(date(year, 1, 1).toordinal(), date(year + 1, 1, 8).toordinal())]
    matching = [d for d in days if d.isoweekday() == weekday]
    in_month = [d for d in matching if (d.year, d.month) == (year, month)]
    if operator == 1:
        assert rule.on(year) == next(d for d in matching if d >= date(year, month, day))
    elif operator == 7:
        assert rule.on(year) == in_month[-1]
    else:
        assert rule.on(year) == (in_month[operator - 2] if len(in_month) > operator - 2 else None)


def test_a_file_of_another_clock_is_told() -> None:
    made = house(sample("1hrLP_32Days.xml"), zone="America/Chicago").interval
    assert made is not None
    (told,) = [assumed_text(one, Voice()) for one in made.assumed]
    assert told.replace("\N{MINUS SIGN}", "-").startswith("The file's own clock is -5 h from UTC in winter")


def feed(readings: str, kind: str, *, point: str = "<kind>0</kind>") -> str:
    return f"""<?xml version="1.0"?><feed xmlns="http://www.w3.org/2005/Atom">
<entry><link rel="self" href="UsagePoint/1"/><content><UsagePoint xmlns="http://naesb.org/espi"><ServiceCategory>{point}
</ServiceCategory></UsagePoint></content></entry>
<entry><link rel="self" href="UsagePoint/1/MeterReading/1"/><link rel="related" href="ReadingType/1"/>
<content><MeterReading xmlns="http://naesb.org/espi"/></content></entry>
<entry><link rel="self" href="ReadingType/1"/><content><ReadingType xmlns="http://naesb.org/espi">{kind}</ReadingType></content></entry>
<entry><link rel="self" href="UsagePoint/1/MeterReading/1/IntervalBlock/1"/><content>
<IntervalBlock xmlns="http://naesb.org/espi">{readings}</IntervalBlock></content></entry></feed>"""


def readings(values: list[int], step: int = 900, quality: dict[int, int] | None = None) -> str:
    return "".join(
        "<IntervalReading>"
        + (f"<ReadingQuality><quality>{quality[n]}</quality></ReadingQuality>" if quality and n in quality else "")
        + f"<timePeriod><duration>{step}</duration><start>{1_736_229_600 + step * n}</start></timePeriod>"
        + f"<value>{v}</value></IntervalReading>\n"
        for n, v in enumerate(values)
    )


def kind(uom: int = 72, power: int = 0, flow: int = 1, accumulation: int = 4) -> str:
    return (
        f"<accumulationBehaviour>{accumulation}</accumulationBehaviour><commodity>1</commodity>"
        f"<flowDirection>{flow}</flowDirection><powerOfTenMultiplier>{power}</powerOfTenMultiplier><uom>{uom}</uom>"
    )


@pytest.mark.parametrize(
    ("values", "of", "kwh"),
    [
        ([5, 6], kind(power=3), [5.0, 6.0]),
        ([5000, 6000], kind(power=-1), [0.5, 0.6]),
        ([4000, 2000], kind(uom=38), [1.0, 0.5]),
        ([7, 2], kind(uom=38, power=3, accumulation=12), [1.75, 0.5]),
        (list(range(50_000, 53_000, 100)), kind(accumulation=3), [0.1] * 29),
        ([100, -50], kind(flow=4), [0.1, -0.05]),
    ],
)
def test_multipliers_units_and_accumulation(values: list[int], of: str, kwh: list[float]) -> None:
    interval = house(feed(readings(values), of)).interval
    assert interval is not None
    np.testing.assert_allclose(interval.kwh, kwh, rtol=1e-9)


def test_codes_of_quality_that_are_estimates() -> None:
    quality = dict(enumerate((0, 7, 8, 9, 10, 11, 12, 14, 17, 18, 19)))
    interval = house(feed(readings([100 + n for n in range(11)], quality=quality), kind())).interval
    assert interval is not None
    assert interval.estimated is not None
    assert np.flatnonzero(interval.estimated).tolist() == [2, 3, 6]


def test_a_value_that_cannot_be_is_quoted_with_its_line() -> None:
    with pytest.raises(InputError) as caught:
        house(feed(readings([-4166] * 8), kind()))
    fault = caught.value.faults[0]
    assert (fault.row, fault.read) == (8, "-4166")


def feed_of(*meters: tuple[str, str]) -> str:
    """Several meters of one usage point."""
    entries = "".join(
        f"""<entry><link rel="self" href="UsagePoint/1/MeterReading/{n}"/><link rel="related" href="ReadingType/{n}"/>
<content><MeterReading xmlns="http://naesb.org/espi"/></content></entry>
<entry><link rel="self" href="ReadingType/{n}"/><content><ReadingType xmlns="http://naesb.org/espi">{of}</ReadingType>
</content></entry><entry><link rel="self" href="UsagePoint/1/MeterReading/{n}/IntervalBlock/1"/><content>
<IntervalBlock xmlns="http://naesb.org/espi">{values}</IntervalBlock></content></entry>"""
        for n, (values, of) in enumerate(meters)
    )
    return f"""<?xml version="1.0"?><feed xmlns="http://www.w3.org/2005/Atom"><entry>
<link rel="self" href="UsagePoint/1"/><content><UsagePoint xmlns="http://naesb.org/espi"><ServiceCategory>
<kind>0</kind></ServiceCategory></UsagePoint></content></entry>{entries}</feed>"""


PEAK, REST, WHOLE = ([100, 0, 300, 40], [0, 200, 0, 60], [100, 200, 300, 100])


def phase(code: int) -> str:
    return kind() + f"<phase>{code}</phase>"


def tou(code: int) -> str:
    return kind() + f"<tou>{code}</tou>"


@pytest.mark.parametrize(
    ("meters", "said"),
    [
        ([(readings(PEAK), tou(1)), (readings(REST), tou(2))], "espi-parts"),
        ([(readings(PEAK), tou(1)), (readings(REST), tou(2)), (readings(WHOLE), kind())], "espi-beside-parts"),
        ([(readings(PEAK), phase(129)), (readings(REST), phase(65))], "espi-phases"),
        (
            [(readings(PEAK), phase(128)), (readings(REST), phase(64)), (readings(WHOLE), phase(224))],
            "espi-beside-phases",
        ),
        ([(readings([3 * v for v in WHOLE]), kind(uom=73)), (readings(WHOLE), kind())], "espi-left"),
        ([(readings(WHOLE), kind()), (readings([4 * v + 1 for v in WHOLE]), kind(uom=38))], "espi-beside-power"),
        ([(readings([70, 80, 90, 10]), kind(flow=4)), (readings(WHOLE), kind())], "espi-beside-net"),
        (
            [(readings([9_000, 9_100, 9_300, 9_600]), kind(accumulation=3)), (readings(WHOLE), kind())],
            "espi-beside-register",
        ),
        ([(readings(WHOLE), kind()), (readings([700], step=3600), kind())], None),
    ],
)
def test_of_several_meters_the_energy_of_the_whole_is_read(meters: list[tuple[str, str]], said: str | None) -> None:
    interval = house(feed_of(*meters)).interval
    assert interval is not None
    np.testing.assert_allclose(interval.kwh, np.array(WHOLE) / 1000, rtol=1e-9, atol=0.0)
    told = [one.code for one in interval.assumed]
    assert said is None or told == [said]
    assert all(assumed_text(one, Voice()) for one in interval.assumed)


def test_a_register_of_what_is_sent_back_that_stands_alone_is_said() -> None:
    interval = house(feed_of((readings(WHOLE), kind(flow=19)))).interval
    assert interval is not None
    assert [one.code for one in interval.assumed] == ["received-alone"]


def test_received_is_kept_beside_delivered_and_net_is_left() -> None:
    net = [(readings(WHOLE), kind()), (readings(PEAK), kind(flow=19)), (readings([0, 200, 0, 60]), kind(flow=4))]
    interval = house(feed_of(*net)).interval
    assert interval is not None
    assert interval.received_kwh is not None
    np.testing.assert_allclose(interval.kwh, np.array(WHOLE) / 1000, rtol=1e-9, atol=0.0)
    np.testing.assert_allclose(interval.received_kwh, np.array(PEAK) / 1000, rtol=1e-9, atol=0.0)


def test_delivered_and_received_as_two_usage_points_are_one_house() -> None:
    first = feed(readings(WHOLE), kind()).removesuffix("</feed>")
    second = feed(readings(PEAK), kind(flow=19)).replace("UsagePoint/1", "UsagePoint/2").replace("Type/1", "Type/2")
    interval = house(first + second[second.index("<entry>") :]).interval
    assert interval is not None
    assert interval.received_kwh is not None
    np.testing.assert_allclose(interval.kwh, np.array(WHOLE) / 1000, rtol=1e-9, atol=0.0)
    np.testing.assert_allclose(interval.received_kwh, np.array(PEAK) / 1000, rtol=1e-9, atol=0.0)


def test_price_periods_that_hold_their_own_hours_alone_are_one_series() -> None:
    every = readings([100, 200, 300, 400, 500]).splitlines()
    interval = house(feed_of(("".join(every[:2]), tou(1)), ("".join(every[2:]), tou(2)))).interval
    assert interval is not None
    np.testing.assert_allclose(interval.kwh, [0.1, 0.2, 0.3, 0.4, 0.5], rtol=1e-9, atol=0.0)


@pytest.mark.parametrize(
    ("xml", "said"),
    [
        ("<html><body>Sign in</body></html>", "holds no ESPI readings"),
        ("<feed><entry>", "broken or incomplete"),
        ("<feed/>", "holds no ESPI readings"),
        ('<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]><feed>&b;</feed>', "never read"),
        ('<!DOCTYPE x SYSTEM "file:///etc/passwd"><feed/>', "never read"),
        ("<a>" * 500 + "</a>" * 500, "no feed of readings"),
        (feed(readings([1, 2]), kind(uom=169), point="<kind>1</kind>"), "no electricity"),
        (feed(readings([1, 2]), kind(uom=73)), "no energy or power"),
        (feed(readings([900, 800]), kind(uom=38) + "<dataQualifier>8</dataQualifier>"), "no energy or power"),
    ],
)
def test_what_is_no_feed_is_refused_in_words(xml: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        house(xml)


PIECES = ("", "<", ">", "</value>", "<value>", "NaN", "9" * 400, "-", "&amp;", "&x;", "\x00", "ä", "<!--", "]]>", "1e9")


@given(data=st.data())
@settings(max_examples=120, deadline=2000)
def test_a_feed_with_its_bytes_torn(data: st.DataObject) -> None:
    xml = feed(readings([100, 200, 300]), kind())
    for _ in itertools.repeat(None, data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(xml)))
        xml = xml[:at] + data.draw(st.sampled_from(PIECES)) + xml[at + data.draw(st.sampled_from((0, 0, 1, 9, 60))) :]
    with contextlib.suppress(InputError):
        house(xml)


def test_resources_are_known_whatever_their_host() -> None:
    assert key_of("https://a.example/x/UsagePoint/1") == key_of("UsagePoint/1/") == "UsagePoint/1"
