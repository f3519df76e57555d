"""Folders, workbooks and files as they lie on the disk, in whatever wrapping: text, zip, OpenDocument, PDF, XML.

In goes a path; out come the tables of a house as cells under their names, the keys of its settings, and the raw tables
of its interval data. The only code that opens a file of a user; it never writes to one.
"""
