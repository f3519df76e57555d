# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # The answer as data, for the one who asks about many houses
#
# One function from a `House` to a `Reconciliation`; both are frozen values, so a question of "what if" is a
# `dataclasses.replace`.

# %%
from dataclasses import replace
from pathlib import Path

import matplotlib.figure
import numpy as np
import pandas as pd

import reconcile
from reconcile.report.figures import bills_against_bands

folders = sorted(path.parent for path in Path("sample_bills").glob("*/bills.csv"))
answers = {path.name: reconcile.reconcile(reconcile.read_house(path)) for path in folders}
pd.DataFrame(
    [
        {
            "house": name,
            "decision": answer.verdict.decision,
            "bills": len(answer.rows),
            "over": sum(row.flag == "over" for row in answer.rows),
            "smallest meter error seen [%]": answer.verdict.smallest_visible_meter_error_percent,
        }
        for name, answer in answers.items()
    ]
).set_index("house").round(0)

# %% [markdown]
# ## Periods as a frame
# One row a billing period, with both bands.

# %%
periods = answers["fast_meter"].periods
periods[["start", "days", "billed_kwh", "usual_kwh", "usual_low_kwh", "usual_high_kwh", "flag"]]

# %% [markdown]
# ## What a better list is worth
# The same house with every stated limit doubled, halved and quartered: how small a meter error would its bills have
# shown? An error that begins is seen against the bills before it, not against the list, so that the limits of a list in
# good order hardly matter to it.

# %%
house = reconcile.read_house("sample_bills/all_well")


def with_limits(house, factor):
    """The house with all its stated limits scaled."""
    return replace(
        house,
        loads=tuple(
            replace(
                load,
                watts_within_percent=None if load.watts_within_percent is None else load.watts_within_percent * factor,
                hours_within_percent=None if load.hours_within_percent is None else load.hours_within_percent * factor,
            )
            for load in house.loads
        ),
    )


seen = {
    factor: reconcile.reconcile(with_limits(house, factor)).verdict.smallest_visible_meter_error_percent
    for factor in (2.0, 1.0, 0.5, 0.25)
}
assert max(seen.values()) < 1.15 * min(seen.values())
pd.Series(seen, name="smallest meter error seen [%]").rename_axis("limits times")

# %% [markdown]
# ## A bill changed on purpose
# Raise one bill by a fifth and see whether it is flagged.

# %%
bills = list(house.bills)
bills[7] = replace(bills[7], kwh=bills[7].kwh * 1.2, reading_start=None, reading_end=None, amount=None)
changed = reconcile.reconcile(replace(house, bills=tuple(bills)))
changed.summary().iloc[5:10]

# %% [markdown]
# ## Figures on your own axes

# %%
figure = matplotlib.figure.Figure(figsize=(11, 6), layout="constrained")
for axes, name in zip(figure.subplots(2, 1), ("all_well", "fast_meter"), strict=True):
    bills_against_bands(answers[name], ax=axes)
figure

# %% [markdown]
# ## A hundred houses in one frame
# Houses come as frames too: here one list of loads beside a hundred years of bills, each a little different, and one
# of them with a bill that is far too high. Every answer's periods have the same columns and types, so that `concat`
# is all it takes.

# %%
draw = np.random.default_rng(5)
months = pd.date_range("2024-01-01", periods=14, freq="MS")
usual = 420 + 80 * np.cos(2 * np.pi * np.arange(13) / 12)
loads = pd.DataFrame({"load": ["Refrigerator", "Lights", "Television", "Electric water heater"], "count": [1, 1, 2, 1]})


def year_of(number):
    """The bills of one house of the hundred."""
    kwh = usual * draw.normal(1.0, 0.15) * draw.normal(1.0, 0.03, 13)
    kwh[7] *= 2.4 if number == 42 else 1.0
    bills = pd.DataFrame({"start": months[:-1], "end": months[1:], "kwh": kwh.round()})
    return reconcile.House.from_frames(bills, loads, name=f"house {number:03d}", occupants=3)


street = [reconcile.reconcile(year_of(number)) for number in range(100)]
every_bill = pd.concat([answer.periods for answer in street], ignore_index=True)
assert len(every_bill) == 1300
flagged = every_bill[every_bill["flag"] == "over"].groupby("house").size()
assert flagged.idxmax() == "house 042"
flagged

# %% [markdown]
# A figure of one house and a plot of the frame share their axes: both count days as matplotlib does.

# %%
figure = matplotlib.figure.Figure(figsize=(9, 4), layout="constrained")
axes = bills_against_bands(street[42], ax=figure.subplots())
middle = every_bill.assign(middle=every_bill["start"] + (every_bill["end"] - every_bill["start"]) / 2)
street_mean = middle.groupby("middle")["billed_kwh"].mean()
street_mean.plot(ax=axes, x_compat=True, color="0.4", linestyle=":")
figure

# %% [markdown]
# ## The dictionary
# What `result.json` holds; plain JSON values.

# %%
said = answers["mistyped_bill"].to_dict()
assert said["schema"] == "reconcile/1"
print(list(said))
said["interval"]["tie_out"][4]
