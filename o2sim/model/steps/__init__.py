"""The steps of the reference engine: each takes the State and changes it; after what may move something, `settle`."""
