"""Accounts as their readers walk: honest bills are left alone, wrong ones found."""

import pytest
import read_accounts as accounts


@pytest.mark.parametrize("kind", accounts.KINDS)
def test_honest_bills_agree_and_none_is_reported(kind: str) -> None:
    made = [accounts.judged(accounts.account(kind, seed)) for seed in range(2)]
    assert all(tie for honest, _, _ in made for tie in honest)
    assert not any(others for *_, others in made)


@pytest.mark.parametrize("kind", ["fixed hour", "midnight", "inclusive", "exchange", "two months", "route"])
def test_a_bill_wrong_by_three_percent_is_found(kind: str) -> None:
    made = [accounts.judged(accounts.account(kind, seed, 0.03 * (-1) ** seed)) for seed in range(2)]
    assert all(found for _, found, _ in made)


@pytest.mark.parametrize("ratio", [1.2, 2.0])
def test_one_ratio_throughout_settles(ratio: float) -> None:
    answer = accounts.reconcile.reconcile(accounts.account("fixed hour", 1, ratio=ratio).house)
    assert answer.interval is not None
    assert answer.interval.ratio is not None
    assert abs(answer.interval.ratio.value / ratio - 1.0) < 0.01
    assert answer.verdict.decision == "paperwork"
