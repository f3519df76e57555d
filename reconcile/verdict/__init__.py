"""The decision with its sentences and steps, and what they tell of."""
