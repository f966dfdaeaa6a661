"""Two things that want the same channel, port, control or name."""
