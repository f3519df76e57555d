# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # A house on suspicion of its meter, for the one who is called in
#
# Bills first, then checks with the covers on, and only then the question of a meter test. The house is invented: a new
# meter was set in March 2025 and every bill since stands about a quarter high.

# %%
import reconcile
from reconcile.figures import cause_chances, doubt_by_load, visible_meter_error

house = reconcile.read_house("sample_bills/fast_meter")
answer = reconcile.reconcile(house)
answer.verdict.headline

# %% [markdown]
# ## What the bills can tell apart
# Several causes may act at once; each has its own chance. A fast meter and a hidden load look much alike in bills.

# %%
assert answer.causes[0].code == "meter-step"
assert not answer.verdict.field_test_warranted
answer.causes_frame[["code", "probability", "since", "size", "size_low", "size_high", "unit"]].round(
    {"probability": 2, "size": 0, "size_low": 0, "size_high": 0}
)

# %%
cause_chances(answer).figure

# %% [markdown]
# ## What they could have shown, and what to measure
# The smallest meter error these bills would have shown nine times in ten, by the period in which it began, and the
# loads whose measurement would narrow it.

# %%
visible_meter_error(answer).figure

# %%
answer.measures_frame[["load", "how", "doubt_percent_before", "doubt_percent_after"]].round(0)

# %%
doubt_by_load(answer).figure

# %% [markdown]
# ## The plan: closed covers first

# %%
plan = reconcile.plan_test(answer)
plan

# %% [markdown]
# ## The checks, entered
# Quiet watts, the main off, and a heater of known watts on a plug-in meter, as written in `field_test.toml`. Each is an
# observation of the same model, and the causes are weighed anew.

# %%
checked = reconcile.read_house("sample_bills/fast_meter_checked")
after = reconcile.reconcile(checked)
print(after.verdict.headline)
chance = {name: {c.code: c.probability for c in r.causes} for name, r in (("bills", answer), ("checks", after))}
assert chance["checks"]["meter-step"] > chance["bills"]["meter-step"]
assert after.verdict.decision == "field-test"

# %%
judged = reconcile.judge_test(checked)
judged
