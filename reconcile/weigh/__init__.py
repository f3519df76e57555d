"""The model: expected and usual use, bands, causes, and what could be seen. Numbers only."""
