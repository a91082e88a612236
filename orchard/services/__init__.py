"""The verbs: every change to the database, each in one transaction."""
