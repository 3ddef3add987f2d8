"""Dates as people and spreadsheets write them."""

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.academy.dates import find_first, read_date

MARCH_14 = datetime.date(2026, 3, 14)


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-14",
        "2026/3/14",
        "14.03.2026",
        "14. 3. 2026",
        "14.3.26",
        "14/03/2026",
        "3/14/2026",
        "3/14/26",
        "14-03-2026",
        "2026-03-14 00:00:00",
        "3/14/2026 0:00",
    ],
)
def test_a_day_is_read_in_all_its_spellings(text):
    assert read_date(text) == MARCH_14


@pytest.mark.parametrize("text", ["03/04/2026", "3-4-26", "12/11/2026"])
def test_what_may_be_two_days_is_refused_with_both(text):
    with pytest.raises(ValueError, match=r"may be 20\d\d-\d\d-\d\d or 20\d\d-\d\d-\d\d; write"):
        read_date(text)


def test_points_put_the_day_first_and_a_double_is_one_day():
    assert read_date("03.04.2026") == datetime.date(2026, 4, 3)
    assert read_date("04/04/2026") == datetime.date(2026, 4, 4)


def test_the_other_dates_of_a_table_tell_what_comes_first():
    months = ["03/04/2026", "3/14/2026", "", "2026-05-17"]
    assert find_first(months) == "month"
    assert read_date("03/04/2026", find_first(months)) == datetime.date(2026, 3, 4)
    assert find_first(["03/04/2026", "14/3/2026"]) == "day"
    assert find_first(["3/14/2026", "14/3/2026"]) is None
    assert find_first(["03/04/2026", "14.03.2026"]) is None


@pytest.mark.parametrize(
    "text",
    ["", "14.13.2026", "2026-02-30", "13/13/2026", "yesterday", "3.14", "14/03-2026", "٣/٤/٢٠٢٦"],
)
def test_what_is_no_date_is_told(text):
    with pytest.raises(ValueError, match="write year-month-day, such as 2026-03-14"):
        read_date(text)


@given(st.dates(datetime.date(2000, 1, 1), datetime.date(2099, 12, 31)))
def test_every_day_is_read_back(day):
    for text in (day.isoformat(), f"{day.day}.{day.month}.{day.year}"):
        assert read_date(text) == day
    slashed = f"{day.month}/{day.day}/{day.year}"
    assert read_date(slashed, "month") == day
