"""The database: engine, sessions, queries by noun, migrations, seeding."""
