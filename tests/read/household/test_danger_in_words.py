"""Signs of danger whose question in the settings is answered in words."""

import pytest

from reconcile.read import read_house


@pytest.mark.parametrize(
    ("written", "there"),
    [
        ("a little, at night", True),
        ("sometimes", True),
        ("maybe", True),
        ("yes, since May", True),
        ("no, not any more", False),
        ("none", False),
    ],
)
def test_a_sign_that_is_answered_in_words_is_one_unless_they_begin_with_a_no(tmp_path, written, there):
    """It was refused as neither true nor false, with no word of caution."""
    (tmp_path / "bills.csv").write_text("start,end,kwh\n2025-01-09,2025-02-08,731\n", encoding="utf-8")
    (tmp_path / "house.toml").write_text(f'[danger]\nbuzzing = "{written}"\n', encoding="utf-8")
    house = read_house(tmp_path)
    assert house.dangers == (("buzzing",) if there else ())
    assert any("house.toml, danger.buzzing" in notice for notice in house.notices)
