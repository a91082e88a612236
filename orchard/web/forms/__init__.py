"""Forms clean what was typed; they never save."""
