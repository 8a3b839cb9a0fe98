"""Run the command line as `python -m o2sim`."""

from o2sim.cli import main

main(prog_name="o2sim")
