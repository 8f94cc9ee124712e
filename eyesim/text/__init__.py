"""Text in and out: reading what a learner wrote, tables, files written whole, and the caution."""
