"""What an inspection or a signal path looks like to whoever reads it: text, JSON, and others."""
