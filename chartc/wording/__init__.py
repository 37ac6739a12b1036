"""The writer: tidy rows from fabrics, charts and texts."""
