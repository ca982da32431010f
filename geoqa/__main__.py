"""Run the command line with `python -m geoqa`."""

from geoqa.cli import main

if __name__ == "__main__":
    main()
