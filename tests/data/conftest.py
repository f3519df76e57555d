"""The makers of the sample houses are scripts; nothing here is collected."""

collect_ignore_glob = ["*.py"]
