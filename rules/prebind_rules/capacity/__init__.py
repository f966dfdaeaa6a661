"""Whether there are channels and switch positions enough."""
