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
# ## The dictionary
# What `result.json` holds; plain JSON values.

# %%
said = answers["mistyped_bill"].to_dict()
assert said["schema"] == "reconcile/1"
print(list(said))
said["interval"]["tie_out"][4]
