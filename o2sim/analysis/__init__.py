"""Outcomes in; measures with their intervals, paired differences and money out."""
