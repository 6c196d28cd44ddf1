"""What the firm may edit: price list, recipes, labour tasks, rates, calendars; and the demo households."""
