"""The steps of the reference engine: each takes and changes the State; after what may move something, `settle`."""
