"""``python -m thermofit``."""

from thermofit.cli import main

if __name__ == "__main__":
    main()
