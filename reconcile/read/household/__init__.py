"""What the household tells: the settings, the list of loads, the diary, the weather, and signs of danger.

In go tables of cells and the sections of ``house.toml``; out come the other parts of a :class:`~reconcile.house.House`,
or faults at the gate.
"""
