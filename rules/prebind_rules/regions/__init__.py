"""Reminders of published rules where the model is flown: for a person to judge, never a verdict."""
