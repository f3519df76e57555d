"""Workbooks: of the answer, of the field test, and to start from."""
