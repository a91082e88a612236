"""The nouns: tables, constraints, querysets."""
