"""``python -m reconcile``."""

from reconcile.cli import main

if __name__ == "__main__":
    main()
