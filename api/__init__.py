"""JSON over HTTP, and the store behind it. Uses `models`; knows nothing of pages."""
