"""What people see: pages, the composed app and the `footing` command. Nothing is worked out here."""
