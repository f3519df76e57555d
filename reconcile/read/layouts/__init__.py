"""How a table of interval data is laid out: its header, its columns of times and of values, what each is called.

In goes the text of one file or the cells of one sheet; out come raw tables, the kinds and names of their columns, and
columns as arrays. Which of them are the registers of the house is told in ``timeline``.
"""
