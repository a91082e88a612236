"""The pages, one room for each noun."""
