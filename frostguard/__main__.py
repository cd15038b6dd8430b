"""`python -m frostguard`."""

from frostguard.cli import main

if __name__ == "__main__":
    main()
