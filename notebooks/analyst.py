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
# `dataclasses.replace`. Another weighs many, each by itself: a house that is refused loses none of the others.

# %%
import json
import tempfile
from dataclasses import replace
from functools import partial
from pathlib import Path

import matplotlib.figure
import numpy as np
import pandas as pd

import reconcile

folders = sorted(path.parent for path in Path("sample_bills").glob("*/bills.csv"))
answers = dict(reconcile.reconcile_many(folders))
table = reconcile.frames.houses(answers)
order = ["house", "decision", "needs_cause_probability", "cause", "cause_probability", "second_cause", "over_kwh"]
table.sort_values("needs_cause_probability", ascending=False)[order].round(2)

# %% [markdown]
# ## Every part of an answer is a frame
# One row a billing period, with both bands. `period` counts from 0, as the lists `periods` of findings and amounts do.

# %%
fast = answers["fast_meter"]
fast.periods[["period", "start", "days", "billed_kwh", "usual_kwh", "usual_low_kwh", "usual_high_kwh", "flag"]]

# %% [markdown]
# The bills that findings are about, over all houses: explode, and join.

# %%
findings = pd.concat([answer.findings_frame for answer in answers.values()]).explode("periods")
every_period = pd.concat([answer.periods for answer in answers.values()])
about = findings.merge(every_period, left_on=["house", "periods"], right_on=["house", "period"])
assert len(about) == len(findings.dropna(subset="periods"))
about.groupby("code")[["billed_kwh", "billed_amount"]].agg(["size", "mean"]).round(0)

# %% [markdown]
# What is disputed, and why the money changed; what could hide in these bills, by the bill in which it would begin.

# %%
fast.money_frame[["part", "code", "probability", "kwh", "amount", "amount_low", "amount_high", "currency"]].round(2)

# %%
fast.visible_frame.set_index("start")[["meter_percent", "constant_watts"]].round(0)

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
    reconcile.figures.bills_against_bands(answers[name], ax=axes)
figure

# %% [markdown]
# ## A hundred houses in one frame
# Houses come as frames too: here one list of loads beside a hundred years of bills, each a little different; one has a
# bill that is far too high, and in one a bill ends before it begins. Each is made where it is weighed, so that an
# executor would spread both (`executor=ProcessPoolExecutor()`). What a callable of your own raises is told in the place
# of its house's answer.

# %%
draw = np.random.default_rng(5)
months = pd.date_range("2024-01-01", periods=14, freq="MS")
usual = 420 + 80 * np.cos(2 * np.pi * np.arange(13) / 12)
loads = pd.DataFrame({"load": ["Refrigerator", "Lights", "Television", "Electric water heater"], "count": [1, 1, 2, 1]})


def bills_of(number):
    """The bills of one house of the hundred."""
    kwh = usual * draw.normal(1.0, 0.15) * draw.normal(1.0, 0.03, 13)
    kwh[7] *= 2.4 if number == 42 else 1.0
    ends = months[1:].where(np.arange(13) != 3, months[2] if number == 77 else months[4])
    return pd.DataFrame({"start": months[:-1], "end": ends, "kwh": kwh.round()})


made = {f"house {n:03d}": partial(reconcile.House.from_frames, bills_of(n), loads, occupants=3) for n in range(100)}
street = dict(reconcile.reconcile_many(made))
table = reconcile.frames.houses(street).set_index("house")
refused = table[table["faults"].str.len() > 0]
assert list(refused.index) == ["house 077"]
print(*refused["faults"].explode(), sep="\n")

# %%
weighed = [answer for answer in street.values() if isinstance(answer, reconcile.Reconciliation)]
every_bill = pd.concat([answer.periods for answer in weighed], ignore_index=True)
assert len(every_bill) == 99 * 13
assert table["over_kwh"].idxmax() == "house 042"
table.sort_values("over_kwh", ascending=False)[["decision", "over_bills", "over_kwh", "cause", "cause_kwh"]].head(3)

# %% [markdown]
# A figure of one house and a plot of the frame share their axes: both count days as matplotlib does.

# %%
figure = matplotlib.figure.Figure(figsize=(9, 4), layout="constrained")
axes = reconcile.figures.bills_against_bands(street["house 042"], ax=figure.subplots())
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
print({key: said[key] for key in ("version", "coverage", "odds", "costs")})
said["interval"]["tie_out"][4]

# %% [markdown]
# ## Answers that were kept
# Files hold all that the frames do: the same columns and types, house by house, whoever wrote them and when.

# %%
with tempfile.TemporaryDirectory() as place:
    files = {name: Path(place, f"{name}.json") for name in answers}
    for name, file in files.items():
        file.write_text(json.dumps(answers[name].to_dict()), encoding="utf-8")
    kept = reconcile.frames.of_results(files)
    kept_bills = reconcile.frames.of_results(files, "periods")
pd.testing.assert_frame_equal(kept, reconcile.frames.houses(answers))
kept_bills.groupby("house")[["billed_kwh", "excess_kwh"]].sum().round(0)
