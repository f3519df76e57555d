# ---
# jupyter:
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # One house, for the one who pays the bill
#
# A year and a half of bills, a list of what is plugged in, and the question: is this bill right? The house is
# invented. Begin with your own by `reconcile begin my_house`.

# %%
import reconcile
from reconcile.figures import bills_against_bands, excess_by_period, where_kwh_go

house = reconcile.read_house("sample_bills/cold_winter")
answer = reconcile.reconcile(house)
answer.verdict.headline

# %% [markdown]
# The January bill was half as high again as the one the year before. Is that the meter? The decision says no cause
# beyond the weather is needed, and the reasons stand beside it.

# %%
assert answer.verdict.decision == "explained"
for reason in answer.verdict.reasons:
    print("-", reason)

# %% [markdown]
# Each bill beside what this house usually uses. *Usual* is what the list of loads and all the **other** bills say: no
# bill vouches for itself.

# %%
answer.summary()

# %% [markdown]
# The same as pictures. The wide band is the list alone; the narrow one is the list and the other bills.

# %%
bills_against_bands(answer).figure

# %%
excess_by_period(answer).figure

# %% [markdown]
# And where the kWh go: as listed, and as the bills make it likely.

# %%
where_kwh_go(answer).figure

# %% [markdown]
# A house where something *is* wrong: since May something draws power day and night. What comes first is always what
# can be done with every cover closed.

# %%
answer = reconcile.reconcile(reconcile.read_house("sample_bills/new_load_in_may"))
print(answer.verdict.headline)
assert answer.verdict.decision == "outside-check"
for step in answer.verdict.next_steps:
    for caution in step.cautions:
        print("  Caution:", caution)
    print(step.hazard, step.text)

# %%
hazards = [step.hazard for step in answer.verdict.next_steps if not step.optional]
assert hazards == sorted(hazards)
bills_against_bands(answer).figure
