"""What the supply, the wire, the pack and the servos' strength can bear."""
