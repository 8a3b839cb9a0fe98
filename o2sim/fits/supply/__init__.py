"""What the books of supply and equipment give: power, orders and roads, units, the stock card."""
