"""Sample flights of an invented weather service, and the generator they come from."""
