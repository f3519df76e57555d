"""Bills and what hangs on them: their days and energy, the printed charges, register readings and tariffs.

In go tables of cells; out come the bills, charges, readings and tariffs of a :class:`~reconcile.house.House`, or faults
at the gate.
"""
