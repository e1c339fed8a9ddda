"""`python -m station`: the same command, for an interpreter without its script on the path."""

from station.cli import main

main(prog_name="station")
