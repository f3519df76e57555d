"""What was read on site: the field test, from ``field_test.toml`` or the sheet of that name.

In go sections of keys; out comes a field test. An impossible reading is a fault that says what to write instead.
"""
