"""Travel: how far channels, servos and surfaces go, and whether anything stops them short."""
