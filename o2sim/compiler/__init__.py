"""Python functions in, compiled functions out, and where their code is kept."""
