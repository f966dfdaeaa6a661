"""What the model does when the link is lost."""
