"""Plain records with units: what the rooms hand to each other. Imports nothing of ours."""
