"""What things are and how they are worked out. Nothing in here knows a clock, a database or a network."""
