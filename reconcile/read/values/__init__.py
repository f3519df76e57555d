"""One cell at a time: dates, clock times, months, numbers and quantities as people and exports write them.

In goes a text, or a column of texts; out comes a value, or that it is none. Nothing here knows of a file, a row
or a house.
"""
