"""Interval data as series of readings, and the series of all files as one timeline.

In go raw tables and ESPI feeds (NAESB REQ.21); out comes one :class:`~reconcile.house.Interval`: the registers of the
house, their energy in kWh on one ruler, and everything that was dropped, kept or moved, counted.
"""
