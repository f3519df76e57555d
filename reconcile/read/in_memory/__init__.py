"""Frames, series and houses made in memory, laid out as the tables of files so that they pass the same gate.

In go frames of pandas or a :class:`~reconcile.house.House` built by hand; out comes a house as if read from files, with
the faults that its files would have had.
"""
