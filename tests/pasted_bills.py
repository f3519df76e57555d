"""Bills as a person copies them out of printed bills and account pages: invented companies, our own layouts."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import timedelta

from hand_typed import Truth


def fields_of(truth: tuple[Truth, ...], n: int) -> dict[str, object]:
    """Return what a template may name of one bill."""
    t = truth[n]
    before = 41_200 + round(sum(one.kwh for one in truth[:n]))
    kwh, cents = round(t.kwh), t.cents
    billed, due = t.end + timedelta(2), t.end + timedelta(23)
    made: dict[str, object] = {
        "kwh": kwh,
        "kwh_c": f"{kwh:,}",
        "amt": f"{cents / 100:,.2f}",
        "fixed": "14.00",
        "tax": f"{cents * 0.05 / 100:.2f}",
        "energy": f"{(cents - 1400) / 100:,.2f}",
        "last_amt": f"{truth[n - 1].cents / 100 if n else 131.17:,.2f}",
        "days": t.days,
        "r0": before,
        "r1": before + kwh,
        "low": min(kwh, 400),
        "rest": kwh - min(kwh, 400),
        "daily": f"{kwh / t.days:.1f}",
        "lastyear": kwh + 37,
        "lastdaily": f"{(kwh + 37) / t.days:.1f}",
        "temp": 38 + n,
        "page": n + 1,
    }
    for name, day in (("s", t.start), ("e", t.end), ("b", billed), ("d", due), ("last", t.end - timedelta(1))):
        made |= {
            name: f"{day:%b} {day.day}, {day.year}",
            f"{name}_us": f"{day:%m/%d/%Y}",
            f"{name}_short": f"{day.month}/{day.day}/{day:%y}",
            f"{name}_long": f"{day:%B} {day.day}, {day.year}",
            f"{name}_md": f"{day:%b} {day.day}",
            f"{name}_dash": f"{day:%d-%b-%Y}",
            f"{name}_iso": day.isoformat(),
            f"{name}_num": f"{day.month}/{day.day}",
            f"{name}_my": f"{day:%B} {day.year}",
        }
    return made


@dataclass(frozen=True)
class Pasted:
    """One way in which a bill comes out of the clipboard, and what must be read of it."""

    text: str
    amount: bool = True
    readings: bool = False
    inclusive: bool = False
    estimated: bool = False
    join: str = "\n\n"
    head: str = ""
    foot: str = ""
    refused: str = ""
    """What the one refusal says, where it cannot be read without guessing."""

    @property
    def asks(self) -> str:
        """The form of its dates, where a day of one bill alone could be two."""
        form = re.search(r"{[sel][a-z]*_(us|short)}", self.text)
        return "" if form is None else "MM/DD/YYYY" if form[1] == "us" else "MM/DD/YY"

    def of(self, truth: tuple[Truth, ...]) -> str:
        """Return the text of so many bills one after the other."""
        each = [self.text.strip("\n").format(**fields_of(truth, n)) for n in range(len(truth))]
        return self.head + self.join.join(each) + self.foot + "\n"


PASTED: dict[str, Pasted] = {
    "blanks between label and figure": Pasted(
        """
HOLLOW CREEK ELECTRIC COOPERATIVE
Account Number: 8834-0021      Page 1 of 2
Statement Date: {b_long}
Service Address: 7 Birch Hollow Rd
Service from: {s} to {e}   ({days} days)
Meter No. 55120934
Present Reading  {r1}  Actual
Previous Reading {r0}  Actual
Kilowatt Hours Used  {kwh_c}
Average Temperature {temp} F
Customer Charge                     $14.00
Energy Charge {kwh_c} kWh @ $0.1284    ${energy}
Sales Tax 5%                        ${tax}
Total Current Charges               ${amt}
Amount Due by {d}      ${amt}
""",
        readings=True,
    ),
    "two columns in a line": Pasted(
        """
Larkfield Power & Light                          Bill date {b_us}
Billing period {s_us} - {e_us}                   Days in period: {days}
Meter number 7781203                             Rate: Residential Service
Previous reading {r0}      Current reading {r1}      kWh used {kwh}
Previous balance ${last_amt}     Payment received ${last_amt} CR
Current charges ${amt}
Please pay ${amt} by {d_us}
""",
        readings=True,
    ),
    "label above its value": Pasted(
        """
Service period
{s} to {e}
Usage
{kwh_c} kWh
Total charges
${amt}
Due date
{d}
""",
    ),
    "a small table of the meter": Pasted(
        """
Your electric bill
Invoice date: {b_us}
Meter      Read dates               Days   Previous   Present   Usage kWh
M-20931    {s_us} - {e_us}   {days}   {r0}   {r1}   {kwh}
Basic charge      9.50
Energy            {energy}
Total new charges        ${amt}
Total amount due {d_us}          ${amt}
""",
        readings=True,
    ),
    "tiers": Pasted(
        """
Mesa Verde Municipal Utilities
Service {s_short} through {e_short}
Tier 1   {low} kWh @ $0.0912
Tier 2   {rest} kWh @ $0.1310
Electric usage {kwh_c} kWh
Total electric charges ${amt}
""",
    ),
    "compared with last year": Pasted(
        """
BILLING SUMMARY
Billing Period: {s} - {e} ({days} days)
Total usage: {kwh_c} kWh
Average daily use: {daily} kWh
Usage same period last year: {lastyear} kWh
Daily average last year {lastdaily} kWh
Current charges: ${amt}
Avg. daily cost: $4.11
""",
    ),
    "arrears and due": Pasted(
        """
Statement of account, prepared {b}
Amount of last bill    $212.40
Payments               $100.00 CR
Balance forward        $112.40
For service {s} to {e}
kWh used {kwh}
Total current charges  ${amt}
Total amount due       $999.99
""",
    ),
    "estimated": Pasted(
        """
Electric Service
From {s_short} To {e_short}
Meter reading (estimated) {r1}
Previous meter reading (actual) {r0}
Energy used {kwh} kWh
Amount for this period ${amt}
""",
        readings=True,
        estimated=True,
    ),
    "one line a bill": Pasted("{s} - {e}   {kwh_c} kWh   ${amt}   View bill", join="\n"),
    "phone notes": Pasted("{s_short} to {e_short}: {kwh} kwh, ${amt}", join="\n"),
    "phone notes by dashes": Pasted("{s_md} - {e} - {kwh}kWh - {amt}", join="\n"),
    "account page": Pasted(
        """
{e_my}
Bill issued {b}
Period {s_md} - {e}
{kwh_c} kWh
${amt}
Paid
Download PDF
""",
        join="\n",
    ),
    "days without a year beside a dated statement": Pasted(
        """
STATEMENT DATE {b_long}
SERVICE PERIOD {s_md} - {e_md}
KWH {kwh}
CURRENT CHARGES {amt}
""",
    ),
    "both days count": Pasted(
        """
Usage period: {s_us} to {last_us}
Days: {days}
Electricity used: {kwh} kWh
New charges: ${amt}
""",
        inclusive=True,
    ),
    "day before month": Pasted(
        """
Tariff: Standard domestic
Bill period {s_dash} to {e_dash}
Units used {kwh}
Standing charge GBP 14.00
Total charges GBP {amt}
""",
    ),
    "iso": Pasted("From {s_iso} until {e_iso}\nConsumption {kwh} kWh\nCost {amt}"),
    "labels in capitals and dots": Pasted(
        """
READ DATE ........ {e_us}
PRIOR READ DATE .. {s_us}
KWH USAGE ........ {kwh}
TOTAL DUE ........ {amt}
""",
    ),
    "reading dates beside the readings": Pasted(
        """
Meter 4471
Current reading  {e_us}   {r1}
Previous reading {s_us}   {r0}
Difference {kwh} kWh
Total current charges ${amt}
""",
        readings=True,
    ),
    "gas on the same bill": Pasted(
        """
Service period {s} - {e}
ELECTRIC
Electric usage {kwh} kWh
Electric charges ${amt}
GAS
Gas usage 43 therms
Gas charges $61.20
Total current charges $301.99
""",
    ),
    "no amounts": Pasted("Service from {s} to {e}\nKilowatt-hours: {kwh_c}", amount=False),
    "a page number and a running head": Pasted(
        """
Page {page} of 12
Account 00-118-2    Customer: A. Person    14 Quarry Lane
Reading period {s_us} to {e_us}
Meter constant 1
Billed usage {kwh_c} kWh
Charges for this period ${amt}
""",
        head="My bills copied from the account page\n",
        foot="\nPage 12 of 12\nQuestions? Call 555-0100 between 8 and 5.\n",
    ),
    "non-breaking blanks and dashes": Pasted(
        "Billing\u00a0period:\u00a0{s}\u00a0\u2013\u00a0{e}\nUsage:\u00a0{kwh_c}\u00a0kWh\nAmount:\u00a0$\u00a0{amt}",
    ),
    "days in brackets": Pasted("Service period: {s} thru {e} ({days} days)\nkWh: {kwh}\nBill: ${amt}"),
    "start and end apart": Pasted(
        "Service start  {s}\nService end  {e}\nNumber of days  {days}\nTotal kWh  {kwh}\nCurrent bill  ${amt}"
    ),
    "used before its number": Pasted(
        """
{days} days of service, {s} to {e}
You used {kwh_c} kWh
Your electric charges: ${amt}
""",
    ),
    "two figures that may be the kWh": Pasted(
        "Service period {s} - {e}\nUsage {kwh} kWh\nUsage {lastyear} kWh\nCurrent charges ${amt}",
        refused="may each be its kWh",
    ),
    "no energy": Pasted("Service period {s} - {e}\nCurrent charges ${amt}", refused="nothing tells its kWh"),
    "no days": Pasted("Usage {kwh} kWh\nCurrent charges ${amt}\nAmount due ${amt}", refused="nothing tells its days"),
    "only peak parts": Pasted(
        "Service period {s} - {e}\nOn-peak {low} kWh\nOff-peak {rest} kWh\nCurrent charges ${amt}",
        refused="may each be its kWh",
    ),
    "a letter": Pasted(
        "Dear customer,\nthank you for your call of {b}. We have looked at your account 8834-0021.\n"
        "Nothing was odd. Your next bill comes as usual.\nKind regards",
        refused="neither a table of bills nor lines copied off bills",
    ),
}


STRAYS = (
    "Last year you used 777 kWh in this period",
    "Next meter reading: Jan 3, 2026",
    "Average home nearby: 930 kWh",
    "Budget plan amount $120.00",
    "Your 12 month total is 9,876 kWh",
    "Call 1-800-555-0100 from 8 to 5",
    "Peak demand 4.2 kW",
    "Rate increase from 1/1/2025 to 12/31/2025",
    "Comparison: Nov 2023 802 kWh",
    "Total kWh this year 5,021",
    "Autopay on Dec 3, 2024 $88.12",
    "Solar credits 41 kWh",
    "Off-peak 200 kWh",
    "Taxes and fees $12.30",
    "Gas charges $44.00",
    "Energy charge 812 kWh @ 0.1234 = $100.20",
)
"""Lines that tell something else, as they stand among those of a bill."""
