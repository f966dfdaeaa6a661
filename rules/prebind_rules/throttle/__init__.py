"""A motor that can turn while someone takes it for stopped."""
