"""The doctor looks at a database and its surroundings, and never changes anything."""
