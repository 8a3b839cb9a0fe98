"""The steps of the reference engine: each takes the State and changes it; `settle` runs after every one."""
