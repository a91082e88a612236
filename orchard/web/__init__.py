"""The doors: people, phones and the clock come in here."""
