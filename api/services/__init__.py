"""Gather, call the pure core, apply. Services do not call each other and hold no arithmetic."""
