"""The local page: a house given through a browser on the same computer, and its answer; nothing goes anywhere else."""
