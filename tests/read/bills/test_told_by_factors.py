"""Bills whose energy is a product, and estimates told by a figure."""

from __future__ import annotations

from pathlib import Path

from reconcile.read import read_house


def test_a_difference_beside_its_multiplier_is_multiplied(tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text(
        "From,To,Difference,Multiplier\n2024-01-09,2024-02-08,91,10\n2024-02-08,2024-03-08,104,10\n"
    )
    house = read_house(tmp_path)
    assert [bill.kwh for bill in house.bills] == [910, 1040]
    assert "kwh is Difference times Multiplier" in " ".join(house.notices)


def test_a_one_under_estimated_is_an_estimate(tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text(
        "From,To,kWh,Estimated\n2024-01-09,2024-02-08,910,0\n2024-02-08,2024-03-08,1040,1\n2024-03-08,2024-04-08,800,0\n"
    )
    house = read_house(tmp_path)
    assert [bill.read_type for bill in house.bills] == ["actual", "estimated", "actual"]
    assert "a 1 under Estimated is an estimated reading" in " ".join(house.notices)
