"""Words of the field test: its keys, plan, doubts, remarks and what comes after."""
