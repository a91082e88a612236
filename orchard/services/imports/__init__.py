"""Tables that people bring: a room for each kind, above one kit for reading them."""
