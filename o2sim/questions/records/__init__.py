"""`o2sim records`: a template to fill in from the books of a hospital, and what is wrong in a filled one."""
