"""The views, one module for each noun."""
