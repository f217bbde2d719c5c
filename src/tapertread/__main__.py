"""Run the command line as ``python -m tapertread``."""

from tapertread.cli import main

if __name__ == "__main__":
    main(prog_name="tapertread")
