"""A live session: what stands on the table, what a group voted, and why the lens did what it did."""
