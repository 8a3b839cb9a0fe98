"""`python -m o2sim` in, the command line out."""

from o2sim.cli import main

main(prog_name="o2sim")
