# ruff: noqa: E501
"""Bill tables, load lists, diaries and weather as people really type them: each with what must be read of it, or asked.

``bills`` are (start, closes, kwh); a text of refusal stands where a person has to be asked.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pytest


@dataclass(frozen=True)
class Typed:
    """One file as typed, and what must come of it."""

    file: str
    text: str
    read: list[tuple[object, ...]] | str
    """Rows read, in order; or a piece of the one question."""


def _d(text: str) -> date:
    return date.fromisoformat(text)


Y = [
    (_d("2024-01-15"), _d("2024-02-14"), 812.0),
    (_d("2024-02-14"), _d("2024-03-15"), 744.0),
    (_d("2024-03-15"), _d("2024-04-15"), 690.0),
]
"""Three bills, by reading days."""
M = [
    (_d("2024-01-01"), _d("2024-02-01"), 812.0),
    (_d("2024-02-01"), _d("2024-03-01"), 744.0),
    (_d("2024-03-01"), _d("2024-04-01"), 690.0),
]
"""Three bills, by months."""

BILLS: dict[str, Typed] = {
    "a dial with its unit under the word meter": Typed(
        "bills.csv",
        "Date;Meter\n15.01.2024;41200 kWh\n14.02.2024;42012 kWh\n15.03.2024;42756 kWh\n15.04.2024;43446 kWh\n",
        [(a, b, None) for a, b, _ in Y],
    ),
    "records under names of their own": Typed(
        "bills.json",
        '{"a": {"from": "2024-01-15", "to": "2024-02-14", "kwh": 812}, "b": {"from": "2024-02-14", "to": "2024-03-15", "kwh": 744}, "c": {"from": "2024-03-15", "to": "2024-04-15", "kwh": 690}}',
        Y,
    ),
    "usage from and to": Typed(
        "bills.csv",
        "Usage From,Usage To,Total kWh Used\n1/15/24,2/14/24,812\n2/14/24,3/15/24,744\n3/15/24,4/15/24,690\n",
        Y,
    ),
    "Dutch period from and to": Typed(
        "bills.csv",
        "Periode van;Periode tot;Verbruik (kWh)\n15 jan 2024;14 feb 2024;812\n14 feb 2024;15 mrt 2024;744\n15 mrt 2024;15 apr 2024;690\n",
        Y,
    ),
    "year, month and day apart": Typed(
        "bills.csv",
        "Year,Month,Day,kWh\n2024,2,14,812\n2024,3,15,744\n2024,4,15,690\n",
        [(_d("2024-01-14"), _d("2024-02-14"), 812.0), *Y[1:]],
    ),
    "the years in words above each part": Typed(
        "bills.csv",
        "Year 2023\nMonth,Electric kWh\nDec,700\nYear 2024\nMonth,Electric kWh\nJan,812\nFeb,744\nMar,690\n",
        [(_d("2023-12-01"), _d("2024-01-01"), 700.0), *M],
    ),
    "months as the names of JSON": Typed("bills.json", '{"kWh": {"2024-01": 812, "2024-02": 744, "2024-03": 690}}', M),
    "readings under names of several words": Typed(
        "bills.csv",
        "When read,Dial reading\n15 Jan 2024,41200\n14 Feb 2024,42012\n15 Mar 2024,42756\n15 Apr 2024,43446\n",
        [(a, b, None) for a, b, _ in Y],
    ),
    "readings in sentences": Typed(
        "bills.txt",
        "15. January 2024: meter 41200\n14. February 2024: meter 42012\n15. March 2024: meter 42756\n15. April 2024: meter 43446\n",
        [(a, b, None) for a, b, _ in Y],
    ),
    "shortened names": Typed(
        "bills.csv",
        "BEGIN_DT|END_DT|KWH_QTY|TOT_AMT\n20240115|20240214|812.00|131.40\n20240214|20240315|744.00|121.10\n20240315|20240415|690.00|113.00\n",
        Y,
    ),
    "billed kW beside charges": Typed(
        "bills.csv",
        "From,To,Billed kWh,Billed kW,Charges\n1/15/24,2/14/24,812,4.1,131.40\n2/14/24,3/15/24,744,4.0,121.10\n3/15/24,4/15/24,690,3.9,113.00\n",
        Y,
    ),
    "the year to date beside": Typed(
        "bills.csv",
        "From,To,kWh this bill,kWh year to date\n1/15/24,2/14/24,812,812\n2/14/24,3/15/24,744,1556\n3/15/24,4/15/24,690,2246\n",
        Y,
    ),
    "month and year under Mo/Yr": Typed("bills.csv", "Mo/Yr,KWH\n01/24,812\n02/24,744\n03/24,690\n", M),
    "the first year above the header, the next below": Typed(
        "bills.csv",
        "2023\nMonth,kWh\nNovember,700\nDecember,720\n\n2024\nMonth,kWh\nJanuary,812\nFebruary,744\nMarch,690\n",
        [(_d("2023-11-01"), _d("2023-12-01"), 700.0), (_d("2023-12-01"), _d("2024-01-01"), 720.0), *M],
    ),
    "words for a lost bill": Typed(
        "bills.csv",
        "start,end,kwh\n2023-12-15,2024-01-15,lost it\n2024-01-15,2024-02-14,812\n2024-02-14,2024-03-15,744\n2024-03-15,2024-04-15,690\n",
        Y,
    ),
    "a sign of money apart from its figure": Typed(
        "bills.txt",
        "From       To         Usage      Amount\n1/15/24    2/14/24    812 kWh    $  131.40\n2/14/24    3/15/24    744 kWh    $   21.10\n3/15/24    4/15/24    690 kWh    $  113.00\n",
        Y,
    ),
    "records within records": Typed(
        "bills.json",
        '{"account": "5521", "statements": [{"statementPeriod": {"startDate": "2024-01-15", "endDate": "2024-02-14"}, "usage": {"value": 812, "unit": "kWh"}},'
        '{"statementPeriod": {"startDate": "2024-02-14", "endDate": "2024-03-15"}, "usage": {"value": 744, "unit": "kWh"}},'
        '{"statementPeriod": {"startDate": "2024-03-15", "endDate": "2024-04-15"}, "usage": {"value": 690, "unit": "kWh"}}]}',
        Y,
    ),
    "no year but in the title": Typed(
        "bills.csv", "Electric 2024\nDates,kWh\nJan 15 - Feb 14,812\nFeb 14 - Mar 15,744\nMar 15 - Apr 15,690\n", Y
    ),
    "quoted in a mail": Typed(
        "bills.txt",
        "> from     to       kwh\n> 1/15/24  2/14/24  812\n>\n>> 2/14/24  3/15/24  744\n> 3/15/24  4/15/24  690\n",
        Y,
    ),
    "thru": Typed(
        "bills.csv",
        "period,kwh\n1/15/24 thru 2/14/24,812\n2/14/24 thru 3/15/24,744\n3/15/24 thru 4/15/24,690\n",
        Y,
    ),
    "en dashes": Typed(
        "bills.csv",
        "Billing period,Usage\n1/15/2024–2/14/2024,812\n2/14/2024–3/15/2024,744\n3/15/2024–4/15/2024,690\n",
        Y,
    ),
    "dates mixed": Typed(
        "bills.csv", "start,end,kwh\n1/15/24,2024-02-14,812\n2/14/24,2024-03-15,744\n2024-03-15,4/15/24,690\n", Y
    ),
    "non-breaking blanks": Typed(
        "bills.csv",
        "From\u00a0,To,kWh\u00a0used\n15\u00a0Jan\u00a02024,14\u00a0Feb\u00a02024,812\u00a0kWh\n"
        "14\u00a0Feb\u00a02024,15\u00a0Mar\u00a02024,744\u00a0kWh\n15\u00a0Mar\u00a02024,15\u00a0Apr\u00a02024,690\u00a0kWh\n",
        Y,
    ),
    "full-width digits": Typed(
        "bills.csv",
        "start,end,kwh\n２０２４-０１-１５,２０２４-０２-１４,８１２\n2024-02-14,2024-03-15,７４４\n2024-03-15,2024-04-15,690\n",
        Y,
    ),
    "comma decimals": Typed(
        "bills.csv",
        "start;end;kwh;amount\n2024-01-15;2024-02-14;812,0;131,40\n2024-02-14;2024-03-15;744,0;121,10\n"
        "2024-03-15;2024-04-15;690,0;113,00\n",
        Y,
    ),
    "a footer": Typed(
        "bills.csv",
        "start,end,kwh\n2024-01-15,2024-02-14,812\n2024-02-14,2024-03-15,744\n2024-03-15,2024-04-15,690\n\n"
        "Total,,2246\nAverage,,748.7\n* from the account page\nlast updated 5/1/2024\n",
        Y,
    ),
    "notes between": Typed(
        "bills.csv",
        "start,end,kwh\n2024-01-15,2024-02-14,812\nbought a new dryer here\n2024-02-14,2024-03-15,744\n"
        "(spring break - nobody home)\n2024-03-15,2024-04-15,690\n",
        Y,
    ),
    "units in the cells": Typed(
        "bills.csv",
        "start,end,used,cost\n2024-01-15,2024-02-14,812 kWh,$131.40\n2024-02-14,2024-03-15,744kwh,$ 121.10\n"
        "2024-03-15,2024-04-15,690 KWH,113.00 USD\n",
        Y,
    ),
    "negative credits": Typed(
        "bills.csv",
        "start,end,kwh,amount\n2024-01-15,2024-02-14,812,-$12.40\n2024-02-14,2024-03-15,744,(21.10)\n"
        "2024-03-15,2024-04-15,690,13.00 CR\n",
        Y,
    ),
    "kWh per day": Typed(
        "bills.csv",
        "start,end,days,kWh per day\n2024-01-15,2024-02-14,30,27.1\n2024-02-14,2024-03-15,30,24.8\n",
        [(_d("2024-01-15"), _d("2024-02-14"), 813.0), (_d("2024-02-14"), _d("2024-03-15"), 744.0)],
    ),
    "daily average between two days": Typed(
        "bills.csv",
        "From,To,Daily average (kWh)\n1/15/2024,2/14/2024,27.1\n2/14/2024,3/15/2024,24.8\n",
        [(_d("2024-01-15"), _d("2024-02-14"), 813.0), (_d("2024-02-14"), _d("2024-03-15"), 744.0)],
    ),
    "kept as text": Typed(
        "bills.csv",
        "start,end,kWh\n'1/15/2024,'2/14/2024,'812\n'2/14/2024,'3/15/2024,'744\n'3/15/2024,'4/15/2024,'690\n",
        Y,
    ),
    "a download's names": Typed(
        "bills.csv",
        "startDate,endDate,consumptionKwh,amountUsd\n2024-01-15T00:00:00Z,2024-02-14T00:00:00Z,812,131.4\n"
        "2024-02-14T00:00:00Z,2024-03-15T00:00:00Z,744,121.1\n2024-03-15T00:00:00Z,2024-04-15T00:00:00Z,690,112.2\n",
        Y,
    ),
    "another download's names": Typed(
        "bills.csv",
        "START_DT,END_DT,KWH_QTY\n20240115,20240214,812.000\n20240214,20240315,744.000\n20240315,20240415,690.000\n",
        Y,
    ),
    "electricity beside gas, units in brackets": Typed(
        "bills.csv",
        "Start,End,Gas (therms),Electric (kWh),Gas $,Electric $,Total $\n2024-01-15,2024-02-14,20,812,30,131.4,161.4\n"
        "2024-02-14,2024-03-15,21,744,31,121.1,152.1\n2024-03-15,2024-04-15,22,690,32,112.2,144.2\n",
        Y,
    ),
    "delivery and supply": Typed(
        "bills.csv",
        "Start,End,kWh,Delivery,Supply\n2024-01-15,2024-02-14,812,51.4,80\n"
        "2024-02-14,2024-03-15,744,51.1,70\n2024-03-15,2024-04-15,690,52.2,60\n",
        Y,
    ),
    "a month and the day of its reading": Typed(
        "bills.csv",
        "Billing month,Read day,kWh\nFebruary 2024,14,812\nMarch 2024,15,744\nApril 2024,15,690\n",
        [(_d("2024-01-14"), _d("2024-02-14"), 812.0), *Y[1:]],
    ),
    "years between the rows, the first above the header": Typed(
        "bills.csv",
        "2023\nFrom,To,kWh\n11/15,12/15,640\n2024\nFrom,To,kWh\n12/15,1/15,700\n1/15,2/14,812\n2/14,3/15,744\n3/15,4/15,690\n",
        [(_d("2023-11-15"), _d("2023-12-15"), 640.0), (_d("2023-12-15"), _d("2024-01-15"), 700.0), *Y],
    ),
    "the bill's own date beside a period of another name": Typed(
        "bills.csv",
        "Invoice Date,Consumption Period,kWh\n2024-02-19,1/15/2024 to 2/14/2024,812\n"
        "2024-03-19,2/14/2024 to 3/15/2024,744\n2024-04-19,3/15/2024 to 4/15/2024,690\n",
        Y,
    ),
    "days under a name for what the meter showed": Typed(
        "bills.csv",
        "Meter read,# of days,kWh\n14-Feb-24,30,812\n15-Mar-24,30,744\n15-Apr-24,31,690\n",
        Y,
    ),
    "periods under a name for money": Typed(
        "bills.csv",
        "Bill,kWh,$\nJan-Feb 2024,812,131\nMar-Apr 2024,744,121\nMay-Jun 2024,690,112\n",
        [
            (_d("2024-01-01"), _d("2024-03-01"), 812.0),
            (_d("2024-03-01"), _d("2024-05-01"), 744.0),
            (_d("2024-05-01"), _d("2024-07-01"), 690.0),
        ],
    ),
    "this year beside last year": Typed(
        "bills.csv",
        "Start,End,This year kWh,Last year kWh\n2024-01-15,2024-02-14,812,700\n"
        "2024-02-14,2024-03-15,744,701\n2024-03-15,2024-04-15,690,702\n",
        Y,
    ),
    "last year's daily average is not this year's": Typed(
        "bills.csv",
        "start,end,Last year daily kWh\n2024-01-15,2024-02-14,27.1\n2024-02-14,2024-03-15,24.8\n",
        "the column kwh is missing",
    ),
    "days to pay by are no days of reading": Typed(
        "bills.csv",
        "Due date,kWh\n3/5/2024,812\n4/5/2024,744\n5/6/2024,690\n",
        "(or start and days, month, period or bill_date).",
    ),
    "two accounts in one file": Typed(
        "bills.csv",
        "Account,Start,End,kWh\nA1,2024-01-15,2024-02-14,812\nB2,2024-01-15,2024-02-14,112\n"
        "A1,2024-02-14,2024-03-15,744\nB2,2024-02-14,2024-03-15,144\nA1,2024-03-15,2024-04-15,690\nB2,2024-03-15,2024-04-15,190\n",
        "A1 and B2 stand side by side in the same periods",
    ),
    "kWh per day beside kWh": Typed(
        "bills.csv",
        "start,end,kWh,kWh/day\n2024-01-15,2024-02-14,812,27.1\n2024-02-14,2024-03-15,744,24.8\n2024-03-15,2024-04-15,690,22.3\n",
        Y,
    ),
    "$ only": Typed(
        "bills.csv", "start,end,amount\n2024-01-15,2024-02-14,131.40\n2024-02-14,2024-03-15,121.10\n", "kwh is missing"
    ),
    "two years side by side": Typed(
        "bills.csv",
        "Month,2024,2025\nJan,812,700\nFeb,744,710\nMar,690,720\n",
        "Write kWh or cost in the first cell",
    ),
    "two years side by side, named": Typed(
        "bills.csv",
        "Month,2024 kWh,2025 kWh\nJan,812,\nFeb,744,\nMar,690,\n",
        M,
    ),
    "months across": Typed("bills.csv", ",Jan 2024,Feb 2024,Mar 2024\nkWh,812,744,690\nCost,131.4,121.1,113\n", M),
    "fiscal year": Typed(
        "bills.csv",
        "FY2024,kWh\nNov,900\nDec,950\nJan,812\n",
        "year",
    ),
    "month names with a year column": Typed(
        "bills.csv", "Year,Month,kWh\n2024,January,812\n2024,February,744\n2024,March,690\n", M
    ),
    "month numbers with a year column": Typed("bills.csv", "Year,Month,kWh\n2024,1,812\n2024,2,744\n2024,3,690\n", M),
    "a month and a due date": Typed(
        "bills.csv",
        "Bill,Due,kWh,$\nJan 2024,2/28/24,812,131.40\nFeb 2024,3/28/24,744,121.10\nMar 2024,4/28/24,690,113\n",
        M,
    ),
    "phone notes in lines": Typed(
        "bills.txt",
        "Jan 15 2024 - Feb 14 2024: 812\nFeb 14 2024 - Mar 15 2024: 744\nMar 15 2024 - Apr 15 2024: 690\n",
        "kWh",
    ),
    "phone notes with kwh": Typed(
        "bills.txt",
        "electric bills\n1/15/24-2/14/24 812kwh $131.40\n2/14/24-3/15/24 744kwh $121.10\n3/15/24-4/15/24 690kwh $113\n",
        Y,
    ),
    "phone notes by month": Typed("bills.txt", "jan 24 812 kwh\nfeb 24 744 kwh\nmar 24 690 kwh\n", M),
    "phone notes by month, no year": Typed("bills.txt", "January 812 kwh\nFebruary 744 kwh\nMarch 690 kwh\n", "year"),
    "aligned by blanks": Typed(
        "bills.txt",
        "From        To          kWh   Cost\n01/15/2024  02/14/2024  812   131.40\n02/14/2024  03/15/2024  744   121.10\n"
        "03/15/2024  04/15/2024  690   113.00\n",
        Y,
    ),
    "single blanks": Typed(
        "bills.txt", "from to kwh\n1/15/2024 2/14/2024 812\n2/14/2024 3/15/2024 744\n3/15/2024 4/15/2024 690\n", Y
    ),
    "a markdown table": Typed(
        "bills.txt",
        "| From | To | kWh |\n|---|---|---|\n| 2024-01-15 | 2024-02-14 | 812 |\n| 2024-02-14 | 2024-03-15 | 744 |\n"
        "| 2024-03-15 | 2024-04-15 | 690 |\n",
        Y,
    ),
    "no header": Typed(
        "bills.csv", "2024-01-15,2024-02-14,812\n2024-02-14,2024-03-15,744\n", "write this line above it"
    ),
    "readings only": Typed(
        "bills.csv",
        "date,reading\n1/15/2024,41200\n2/14/2024,42012\n3/15/2024,42756\n4/15/2024,43446\n",
        [(a, b, None) for a, b, _ in Y],
    ),
    "thousands": Typed(
        "bills.csv",
        'start,end,kwh\n2024-01-15,2024-02-14,"1,812"\n2024-02-14,2024-03-15,"1,744"\n2024-03-15,2024-04-15,"1,690"\n',
        [(a, b, 1000.0 + c) for a, b, c in Y],
    ),
    "read dates and an E": Typed(
        "bills.csv", "Read date,kWh\n1/15/2024,\n2/14/2024,812\n3/15/2024,744 E\n4/15/2024,690\n", Y
    ),
    "a doubtful figure": Typed(
        "bills.csv",
        "start,end,kwh\n2024-01-15,2024-02-14,812\n2024-02-14,2024-03-15,744 est?\n2024-03-15,2024-04-15,690\n",
        Y,
    ),
    "about": Typed(
        "bills.csv",
        "start,end,kwh\n2024-01-15,2024-02-14,812\n2024-02-14,2024-03-15,~744\n2024-03-15,2024-04-15,690\n",
        Y,
    ),
    "subtotals a year": Typed(
        "bills.csv",
        "Bill,From,To,kWh\n1,12/15/2023,1/15/2024,600\nTotal 2023,,,600\n2,1/15/2024,2/14/2024,812\n"
        "3,2/14/2024,3/15/2024,744\n4,3/15/2024,4/15/2024,690\nTotal 2024,,,2246\n",
        [(_d("2023-12-15"), _d("2024-01-15"), 600.0), *Y],
    ),
    "newest first with blanks": Typed(
        "bills.csv",
        ",,,\n,From,To,kWh\n,,,\n,3/15/24,4/15/24,690\n,2/14/24,3/15/24,744\n,1/15/24,2/14/24,812\n",
        Y,
    ),
    "quoted dates": Typed(
        "bills.csv",
        'From,To,kWh\n"Jan 15, 2024","Feb 14, 2024",812\n"Feb 14, 2024","Mar 15, 2024",744\n"Mar 15, 2024","Apr 15, 2024",690\n',
        Y,
    ),
    "dates with commas unquoted": Typed(
        "bills.csv",
        "From,To,kWh\nJan 15, 2024,Feb 14, 2024,812\nFeb 14, 2024,Mar 15, 2024,744\nMar 15, 2024,Apr 15, 2024,690\n",
        Y,
    ),
    "a year with an apostrophe": Typed("bills.csv", "Month,kWh\nJan '24,812\nFeb '24,744\nMar '24,690\n", M),
    "gas beside": Typed(
        "bills.csv",
        "From,To,Electric kWh,Gas therms,Total\n1/15/2024,2/14/2024,812,40,190\n2/14/2024,3/15/2024,744,35,180\n"
        "3/15/2024,4/15/2024,690,20,150\n",
        Y,
    ),
    "TBD at the end": Typed(
        "bills.csv",
        "start,end,kwh\n2024-01-15,2024-02-14,812\n2024-02-14,2024-03-15,744\n2024-03-15,2024-04-15,690\n2024-04-15,,\n",
        Y,
    ),
    "a missing month": Typed(
        "bills.csv",
        "start,end,kwh\n2024-01-15,2024-02-14,812\nlost,,\n2024-03-15,2024-04-15,690\n",
        [Y[0], Y[2]],
    ),
    "ordinals": Typed(
        "bills.csv",
        'start,end,kwh\n"Jan 15th, 2024","Feb 14th, 2024",812\n"Feb 14th, 2024","March 15th 2024",744\n'
        '"March 15th 2024","April 15th 2024",690\n',
        Y,
    ),
    "two lines of header": Typed(
        "bills.csv",
        "Service,,Usage,Charges\nFrom,To,kWh,$\n1/15/2024,2/14/2024,812,131.40\n2/14/2024,3/15/2024,744,121.10\n"
        "3/15/2024,4/15/2024,690,113.00\n",
        Y,
    ),
}

BILLS |= {
    "a total of peak and off-peak": Typed(
        "bills.csv", "Month,Peak,Off-peak,Total\nJan 2024,300,512,812\nFeb 2024,300,444,744\nMar 2024,290,400,690\n", M
    ),
    "numbered bills": Typed(
        "bills.csv",
        "Bill #,Service,Usage,Total\n1,1/15-2/14/24,812,$131.40\n2,2/14-3/15/24,744,$121.10\n3,3/15-4/15/24,690,$113.00\n",
        Y,
    ),
    "a dial under the word meter": Typed(
        "bills.csv",
        "Read,Meter,kWh\n1/15/2024,41200,\n2/14/2024,42012,812\n3/15/2024,42756,744\n4/15/2024,43446,690\n",
        Y,
    ),
    "thousands as k": Typed(
        "bills.csv", "start,end,kwh\n2024-01-15,2024-02-14,1.8k\n", "this is in k, which cannot become kWh"
    ),
    "a year in the first column": Typed("bills.csv", "2024,Jan,812\n2024,Feb,744\n2024,Mar,690\n", "year,month,kwh"),
    "what is not known": Typed(
        "bills.csv",
        "start,end,kwh,amount\n2024-01-15,2024-02-14,812,$131.40\n2024-02-14,2024-03-15,744,n/a\n2024-03-15,2024-04-15,690,?\n",
        Y,
    ),
    "two months a bill": Typed(
        "bills.csv", "Month,kWh\nJanuary 2024,1500\nMarch 2024,1400\nMay 2024,1300\n", "Jan 2025 - Feb 2025"
    ),
}
FIGURES: dict[str, Typed] = {
    "days of a month": Typed(
        "loads.csv",
        "Appliance,Watts,Hours/day,Days/month\nLathe,700,3,10.1458333\n",
        [("Lathe", 1, 700.0, pytest.approx(1.0))],
    ),
    "hours of a year": Typed(
        "loads.csv", "Appliance,Watts,Hours per year\nLathe,700,730.5\n", [("Lathe", 1, 700.0, pytest.approx(2.0))]
    ),
    "weekday and weekend hours": Typed(
        "loads.csv", "Appliance,Watts,Weekday hours,Weekend hours\nLathe,700,3,6.5\n", [("Lathe", 1, 700.0, 4.0)]
    ),
    "hours a day in German": Typed(
        "loads.csv", "Gerät;Leistung;h/Tag\nDrehbank;0,7 kW;1,5\n", [("Drehbank", 1, 700.0, 1.5)]
    ),
    "times a day and minutes each": Typed(
        "loads.csv", "Appliance,Watts,Times per day,Minutes each\nLathe,700,4,30\n", [("Lathe", 1, 700.0, 2.0)]
    ),
    "days of the week": Typed(
        "loads.csv",
        "Appliance,Watts,Hours\nLathe,700,7 h on weekdays\nKiln,2400,3.5 hrs on weekends\nBench lamp,60,7 h mon-fri\n",
        [("Lathe", 1, 700.0, 5.0), ("Kiln", 1, 2400.0, 1.0), ("Bench lamp", 1, 60.0, 5.0)],
    ),
    "amps and volts": Typed(
        "loads.csv",
        "Appliance,Volts,Amps,Hours\nKiln,240,10,2\nLathe,120,5 A,1\n",
        [("Kiln", 1, 2400.0, 2.0), ("Lathe", 1, 600.0, 1.0)],
    ),
    "watts of all together": Typed(
        "loads.csv",
        "Appliance,Qty,Total watts,Hours\nLED,10,90,4\nTV,2,200,5\n",
        [("LED", 10, 9.0, 4.0), ("TV", 2, 100.0, 5.0)],
    ),
    "minutes": Typed("loads.csv", "Appliance,Watts,Minutes per day\nKettle,1500,12\n", [("Kettle", 1, 1500.0, 0.2)]),
    "hours a week": Typed("loads.csv", "Appliance,Watts,Hours/week\nIron,1000,3.5\n", [("Iron", 1, 1000.0, 0.5)]),
    "yes and no": Typed(
        "loads.csv", "Appliance,Have it?,Watts,Hours\nKiln,yes,900,1\nPool pump,no,,\n", [("Kiln", 1, 900.0, 1.0)]
    ),
    "a dozen": Typed("loads.csv", "Appliance,Count,Watts,Hours\nLamps,a dozen,9,4\n", [("Lamps", 12, 9.0, 4.0)]),
    "gas in a column": Typed("loads.csv", "Appliance,Fuel\nWater heater,gas\n", [("gas Water heater", 1, 5.0, None)]),
    "gas in the name": Typed(
        "loads.csv",
        "load\ngas stove\nold water heater (gas)\n",
        [("gas stove", 1, 350.0, 0.3), ("old water heater (gas)", 1, 5.0, None)],
    ),
    "the light of another lamp in a name": Typed(
        "loads.csv", "load,hours\nLED bulbs 60W equivalent,4\n", [("LED bulbs 60W equivalent", 1, 300.0, 4.0)]
    ),
    "never": Typed(
        "loads.csv", "Appliance,Watts,Hours\nFreezer (unplugged),120,never\n", [("Freezer (unplugged)", 1, 120.0, 0.0)]
    ),
}

LOADS: dict[str, Typed] = {
    "phone notes": Typed(
        "loads.txt",
        "fridge 150w\n2 tvs 100w 5h\nspace heater 1500w winter\n",
        [("fridge 150w", 1), ("2 tvs 100w 5h", 2), ("space heater 1500w winter", 1)],
    ),
    "names alone": Typed("loads.txt", "Fridge\nTV\nDryer\n", [("Fridge", 1), ("TV", 1), ("Dryer", 1)]),
    "names with a heading": Typed(
        "loads.txt", "What we have:\nFridge\nTV\nDryer\n", [("Fridge", 1), ("TV", 1), ("Dryer", 1)]
    ),
    "rooms between": Typed(
        "loads.csv",
        "Appliance,Watts,Hours\nKITCHEN,,\nFridge,150,24/7\nLIVING ROOM,,\nTV,100,5\n",
        [("Fridge", 1), ("TV", 1)],
    ),
    "totals below": Typed(
        "loads.csv", "Appliance,Watts,Hours\nFridge,150,\nTV,100,5\nTotal,250,\n", [("Fridge", 1), ("TV", 1)]
    ),
    "dashes and bullets": Typed(
        "loads.txt", "- Fridge\n- TV x2\n- Dryer\n", [("Fridge", 1), ("TV x2", 2), ("Dryer", 1)]
    ),
    "size and hours in a name": Typed(
        "loads.csv", "load\nPool pump 1.5 hp\nLED lamps 9W\n", [("Pool pump 1.5 hp", 1), ("LED lamps 9W", 1)]
    ),
    "colons": Typed(
        "loads.txt",
        "Fridge: 150 W\nTV: 100 W\nPool pump: 1.5 hp\n",
        [("Fridge: 150 W", 1), ("TV: 100 W", 1), ("Pool pump: 1.5 hp", 1)],
    ),
}
DIARY: dict[str, Typed] = {
    "words of one's own": Typed(
        "events.csv",
        "date,what,note\n2024-02-10,vacation,Florida\n2024-03-01,new fridge,\n2024-03-20,guests,\n",
        [(_d("2024-02-10"), "away"), (_d("2024-03-01"), "new-load"), (_d("2024-03-20"), "guests")],
    ),
    "sentences": Typed(
        "events.csv",
        "Date,What happened\n2/10/2024,went on vacation\n3/15/2024,bought a chest freezer\n3/20/2024,mother in law visiting\n",
        [(_d("2024-02-10"), "away"), (_d("2024-03-15"), "new-load"), (_d("2024-03-20"), "guests")],
    ),
    "lines": Typed(
        "events.txt",
        "2024-02-10 vacation\n2024-03-01 new fridge\n",
        [(_d("2024-02-10"), "away"), (_d("2024-03-01"), "new-load")],
    ),
}
WEATHER: dict[str, Typed] = {
    "degrees in the cells": Typed("weather.csv", "Date,High,Low\n1/15/2024,41°F,28°F\n1/16/2024,39°F,25°F\n", [(2,)]),
    "units in the header": Typed("weather.csv", "Day,Avg temp (F)\n2024-01-15,34\n2024-01-16,32\n", [(2,)]),
    "missing days": Typed(
        "weather.csv", "Date,TMAX (F),TMIN (F)\n2024-01-15,41,28\n2024-01-16,M,M\n2024-01-17,40,30\n", [(3,)]
    ),
    "a title": Typed("weather.csv", "Airport weather 2024,,\nDate,Max,Min\n2024-01-15,5,-1\n2024-01-16,4,-3\n", [(2,)]),
}
