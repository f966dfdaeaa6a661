"""What was proved by hand on the model, by whom, and whether that still holds."""
