"""A resident's practice: a log that only grows, how good a hand is, and whether competence has been shown."""
