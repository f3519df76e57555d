"""Every sum that is printed adds up as printed, in every currency and locale: table, headline, money, letter."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest
from babel.numbers import get_currency_precision, parse_decimal
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reconcile.answer import reconcile
from reconcile.house import House
from reconcile.kinds import Flag
from reconcile.local_forms import NO_BREAK
from reconcile.money.stake import Stake
from reconcile.read import read_house
from reconcile.report.screens.terminal import terminal_text
from reconcile.report.views.letter_view import letter
from reconcile.report.views.money_view import money_view
from reconcile.report.views.view import view
from reconcile.result import Reconciliation
from reconcile.say import NOTHING, Voice, clean
from reconcile.texts.letter_words import TOGETHER
from reconcile.texts.money import bridging
from reconcile.verdict.sums import excess_step, summed

BILLS = Path(__file__).parents[2] / "sample_bills"
WITH_MONEY = ("fast_meter", "fast_meter_checked", "new_load_in_may", "mistyped_bill", "estimated_read", "cold_winter")
VOICES = (
    ("en_US", "USD"), ("en_GB", "GBP"), ("de_DE", "EUR"), ("fr_FR", "EUR"), ("ja_JP", "JPY"), ("en_IN", "INR"),
    ("de_CH", "CHF"), ("ar_KW", "KWD"), ("pt_BR", "BRL"), ("sv_SE", "SEK"),
)  # fmt: skip


@cache
def sample(name: str) -> House:
    return read_house(BILLS / name)


@st.composite
def houses(draw: st.DrawFn) -> House:
    """A sample house with some of its bills, its energy and its money at another scale, spoken to in another voice."""
    house = sample(draw(st.sampled_from(WITH_MONEY)))
    locale, currency = draw(st.sampled_from(VOICES))
    first = draw(st.integers(0, 3))
    price = Decimal(str(draw(st.sampled_from((1, 0.37, 12.5, 100)))))
    cent = Decimal(1).scaleb(-get_currency_precision(currency))
    odd = draw(st.integers(first, len(house.bills) - 1))
    extra = draw(st.sampled_from((0.0, 137.3, 611.0)))
    bills = []
    for i, bill in enumerate(house.bills):
        kwh = None if bill.kwh is None else bill.kwh + (extra if i == odd else 0.0)
        amount = None if bill.amount is None else (bill.amount * price).quantize(cent)
        bills.append(replace(bill, kwh=kwh, amount=amount))
    return replace(house, bills=tuple(bills[first:]), locale=locale, currency=currency)


def number(text: str, result: Reconciliation) -> Decimal:
    """Read a number as it is printed: its sign, digits, marks of the locale, without currency or unit."""
    assert "\u202f" not in text  # one space between thousands, in numbers and in money
    digits = re.search(r"\d(?:[\d.,’٬٫'\u00a0]*\d)?", text)
    assert digits, text
    value = parse_decimal(digits[0].replace(NO_BREAK, ""), locale=result.house.locale)
    return -value if "−" in text else value


def marked(result: Reconciliation) -> list[dict[str, str]]:
    """Rows of the side that the figures beside the answer are of."""
    words = view(result)
    side = str(words["three"]["side"]).partition(" ")[0]
    return [row for row, own in zip(words["periods"], result.rows, strict=True) if own.flag == side]


def table_and_head(result: Reconciliation) -> None:
    three, rows = view(result)["three"], marked(result)
    assert number(three["kwh"], result) == abs(sum(number(row["excess"], result) for row in rows))
    if three["money"] != NOTHING and rows:
        amounts = sum(number(r["amount"], result) if r["amount"] else 0 for r in rows)
        assert number(three["money"], result) == abs(amounts)
    if rows and result.verdict.decision != "urgent" and "what this house usually uses" in result.verdict.headline:
        assert three["kwh"] in result.verdict.headline.replace(NO_BREAK, " ") or three["kwh"] in result.verdict.headline


def should_have_cost(result: Reconciliation) -> None:
    costs = view(result)["should_cost"]
    for row in costs:
        billed, usual, over = (number(row[key], result) for key in ("billed", "usual", "over"))
        assert abs(billed - usual - over) <= 1, row
    parts = [row for row in costs if not row["sum"]]
    for total in (row for row in costs if row["sum"]):
        for key in ("billed", "usual", "over"):
            assert number(total[key], result) == sum(number(row[key], result) for row in parts), key
        billed, usual, over = (number(total[key], result) for key in ("billed", "usual", "over"))
        assert abs(billed - usual - over) <= Decimal("0.5")


def bridge(result: Reconciliation) -> None:
    money = money_view(result)
    if money is None or money["bridge"] is None:
        return
    told = money["bridge"]
    parts = sum(number(part["amount"], result) for part in told["parts"])
    assert parts == number(told["total"], result)
    assert number(told["from_amount"], result) + parts == number(told["to_amount"], result)
    whole, *each = [
        number(size, result) * (1 if way == "more" else -1)
        for size, way in re.findall(r"([^ ]*\d[^ ]*) (more|less) (?:than|for) ", told["sentence"])
    ] or [Decimal(0)]
    if len(each) > 1:  # without cents where a part is inferred, and adding up all the same
        same = "the same as" in told["sentence"]
        assert (whole + sum(each) == 0) if same else (whole == sum(each)), told["sentence"]
    for bill in money["apart"]:
        billed, ours, apart = (number(bill[key], result) for key in ("billed", "ours", "difference"))
        assert billed - ours == apart


def in_the_letter(result: Reconciliation) -> None:
    said = letter(result)
    over = [row for row in result.rows if row.flag == "over"]
    point = next((p for p in said["points"] if " in all, " in p and "bills from" in p), None)
    if point is None:
        return
    span = {result.voice.span(row.start, row.end) for row in over}
    rows = [bill for bill in said["bills"] if bill["dates"] in span]
    kwh = sum(number(bill["kwh"], result) for bill in rows)
    total = point.split(" charge ")[1].split(" kWh in all")[0]
    assert abs(number(total, result) - kwh) < 1
    assert view(result)["three"]["kwh"] in point
    for bill in [bill for bill in said["bills"] if bill["over"]]:
        assert abs(
            number(bill["kwh"], result) - number(bill["usual"], result) - number(bill["over"], result)
        ) <= Decimal("0.011")
    assert number(view(result)["three"]["kwh"], result) == sum(number(bill["over"], result) for bill in rows)
    for together in [bill for bill in said["bills"] if bill["dates"] == TOGETHER]:
        for key in ("kwh", "usual", "over"):
            assert abs(number(together[key], result) - sum(number(bill[key], result) for bill in rows)) <= Decimal(
                "0.02"
            ) * len(rows)
        if number_or_none(together["amount"], result) is not None:
            assert number(together["amount"], result) == sum(number(bill["amount"], result) for bill in rows)


def number_or_none(text: str, result: Reconciliation) -> Decimal | None:
    return number(text, result) if re.search(r"\d", text) else None


def in_the_load_list(result: Reconciliation) -> None:
    words = view(result)
    if not words["loads_sum"]:
        return
    loads, billed, apart = words["loads_sum"]
    for key in ("listed", "with_bills"):
        parts = [number(load[key].split(" (")[0], result) for load in words["loads"]]
        assert number(loads[key], result) == sum(parts)
        assert abs(number(billed[key], result) - number(loads[key], result) - number(apart[key], result)) <= 1


def flat(text: str) -> str:
    """Words as a screen shows them, on one line."""
    return " ".join(str(clean(text.replace("\n", " "))).replace(NO_BREAK, " ").split())


def in_the_terminal(result: Reconciliation) -> None:
    words = view(result)
    first, whole = (flat(terminal_text(result, 100, full=full)) for full in (False, True))
    if result.verdict.decision != "urgent":
        for size, what in words["figures"]:
            assert flat(f"{size} {what}") in first
    if result.verdict.over.bills and result.verdict.decision != "urgent":
        assert flat(words["three"]["kwh"]) in first
    for row in words["should_cost"]:  # its sums are those of the page, which add up
        assert flat(f"billed {row['billed']}, at usual use about {row['usual']}, over {row['over']}") in whole


def all_sums(result: Reconciliation) -> None:
    for check in (table_and_head, should_have_cost, bridge, in_the_letter, in_the_load_list, in_the_terminal):
        check(result)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(houses())
def test_sums_of_the_samples_changed_add_up_as_printed(house: House) -> None:
    all_sums(reconcile(house))


def test_sums_of_simulated_houses_add_up_as_printed() -> None:
    import sys

    sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
    from speech_rules import simulated

    for i, (_, house) in enumerate(simulated(26, 61000)):
        locale, currency = VOICES[i % len(VOICES)]
        cent = Decimal(1).scaleb(-get_currency_precision(currency))
        paid = tuple(replace(b, amount=None if b.amount is None else b.amount.quantize(cent)) for b in house.bills)
        all_sums(reconcile(replace(house, bills=paid, locale=locale, currency=currency)))


@pytest.mark.parametrize("check", [table_and_head, should_have_cost, bridge])
def test_a_sum_that_does_not_add_up_is_seen(check, monkeypatch: pytest.MonkeyPatch) -> None:
    result = reconcile(sample("fast_meter"))
    words, money = view(result), money_view(result)
    assert money is not None
    words["three"] = {**words["three"], "kwh": "1 kWh"}
    words["should_cost"][-1]["over"] = "$1"
    money["bridge"]["total"] = "$1.00"
    monkeypatch.setitem(globals(), "view", lambda _: words)
    monkeypatch.setitem(globals(), "money_view", lambda _: money)
    with pytest.raises(AssertionError):
        check(result)


@pytest.mark.parametrize(
    ("amount", "periods", "said"),
    [
        (
            "84",
            (2,),
            "the $147 over usual is all that the 2 bills marked high are over.",
        ),
        ("160", (1, 2), "is this cause's own size, found with all bills together."),
        ("120", (1, 2), "$120 is this cause's part."),
        ("251", (0, 1, 2), "$251 counts all 3 bills that it touches"),
    ],
)
def test_no_part_is_told_larger_than_its_whole(amount: str, periods: tuple[int, ...], said: str) -> None:
    stake = Stake("single-period", 0.6, periods, 400.0, Decimal(amount))
    assert said in bridging(stake, (1, 2), Decimal(147), Voice()).replace(NO_BREAK, " ")


def test_no_marked_bill_is_written_as_off_by_nothing() -> None:
    rows = reconcile(sample("all_well")).rows
    wide = [replace(row, usual_low_kwh=-190.0, usual_high_kwh=-70.0, flag=Flag.WITHIN) for row in rows]
    assert excess_step(wide) == 10.0
    low = [*wide[1:], replace(wide[0], flag=Flag.UNDER, excess_kwh=-3.5)]
    assert excess_step(low) == 1.0
    assert summed(low, Flag.UNDER).kwh < 0.0
