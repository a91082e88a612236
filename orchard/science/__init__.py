"""The laws of the orchard: plain Python, no framework, no clock, no database."""
