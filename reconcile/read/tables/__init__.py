"""From cells to tables of declared columns, past the one gate that collects every fault with its place.

In go cells, each with its line or row, and the declarations of ``columns.toml``; out come tables whose header, columns,
order of dates and decimal sign are settled. The gate reads what a cell says, and keeps every fault and notice.
"""
