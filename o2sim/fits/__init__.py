"""What each book of a hospital gives for the keys of a scenario, with its doubt: laws, rates, shares."""
