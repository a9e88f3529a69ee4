"""How a database of an older schema becomes one of today's, step by step."""
