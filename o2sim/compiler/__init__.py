"""Compile Python functions, and keep their code for the next process."""
