"""`python -m discwright` is the command line."""

from discwright.cli.main import run

run()
