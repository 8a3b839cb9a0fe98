"""The version of o2sim, written down here and nowhere else."""

__version__ = "0.3.0"
