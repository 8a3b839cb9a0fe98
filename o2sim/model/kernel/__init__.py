"""The compiled engine: the rules of the reference, step by step under the same names (see ../steps)."""
